"""How a shaft passes through its speeds: slow roll, critical speeds, order filter, whirl."""

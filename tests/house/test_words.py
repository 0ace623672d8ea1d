"""Nothing of one machine stands in the project."""

from __future__ import annotations

import re

from tests.house.tree import name_of, text_files

# Put together from parts, so that this file itself has none of them.
_FOLDERS_OF_ONE_MACHINE = ("work", "opt", "root", "home", "Users", "mnt", "tmp")
_HOSTS = ("pypi" + ".org", "python" + "hosted", "arti" + "factory", "dev" + "pi", "gith" + "ub.com")
FORBIDDEN = {
    "an absolute path": re.compile(
        r"(?<![\w.~}>)*/-])/(?:" + "|".join(_FOLDERS_OF_ONE_MACHINE) + r")/\w"
    ),
    "a folder beside the project": re.compile(r"\bshar" + r"ed/"),
    "a host": re.compile("|".join(map(re.escape, _HOSTS))),
}
# The licence texts of fonts stand as their makers wrote them.
LICENCES = re.compile(r"resources/fonts/.*\.txt")


def test_no_machine_shows_through() -> None:
    found = []
    for path in text_files():
        name = name_of(path)
        if LICENCES.fullmatch(name):
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            found += [
                f"{name}:{number}: {what}: {line.strip()[:100]}"
                for what, pattern in FORBIDDEN.items()
                if pattern.search(line)
            ]
    assert found == []


def test_the_search_finds_what_it_looks_for() -> None:
    path, folder, host = FORBIDDEN.values()
    assert path.search("open('" + "/ho" + "me/someone/x.h5')")
    assert not path.search("https://example.invalid/home/page and app/work/runner.py")
    assert folder.search("../shar" + "ed/notes")
    assert host.search("https://" + "pypi" + ".org/simple")

"""Pseudonyms of pupils: salted and hashed on the way in; and what looks like a name or an address is refused.

The salt lies in a file of its own, by default in the user's own settings folder and never beside the bank: a bank is
handed on, and whoever has both salt and digests can try out which pupil is which. A digest without its salt cannot be
traced by trying. With the same salt the same pupil gets the same digest, so results of several quizzes can be joined.
Common practice, no source; a school's own rules on data protection go before it.
"""

from __future__ import annotations

import os
import re
import secrets
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from hashlib import blake2b
from pathlib import Path

from bank.errors import BadInput, Place, Problem
from bank.files import cannot_write, note_change
from bank.ordinary import NO_FILE, odd_about, shown_path
from bank.private import make_private, others_may_read, private_folder

SALT_BYTES = 32
DIGEST_BYTES = 8
_HEADER = "stemwright salt 1\n"

HOW = (
    "give every pupil a code that says nothing of the pupil (such as P-07), keep the list of codes and names apart"
    " from the results, and put the codes in place of the names"
)
"""How to make pseudonyms."""

NAMING_HEADERS = frozenset((
    "name", "names", "full name", "fullname", "first name", "firstname", "forename", "given name", "last name",
    "lastname", "surname", "family name", "middle name", "nickname", "display name", "student name", "pupil name",
    "learner name", "candidate name", "e mail", "email", "mail", "email address", "e mail address", "address",
    "street", "postcode", "post code", "zip code", "city", "town", "phone", "telephone", "mobile", "date of birth",
    "birth date", "birthdate", "birthday", "dob", "parent", "parents", "guardian", "mother", "father", "ip address",
    "nachname", "vorname", "geburtsdatum", "nom", "prenom", "apellido", "apellidos", "nombre",
))
"""Headings of columns that name people or tell where they live, plain (`plain_heading`)."""

_MAIL = re.compile(r"[^\s@]+@[^\s@]+\.[^\s@]+")
_TITLE = re.compile(r"\b(mr|mrs|ms|miss|mx|dr|prof|sir|herr|frau|mme|sr|sra)\b\.?\s", re.IGNORECASE)
_ENOUGH = 0.5
"""Share of a column's values that look like names from which on the column is refused."""
_LOOKED_AT = 2_000
"""Distinct values of a column that are looked at."""


@dataclass(frozen=True, kw_only=True)
class Salt:
    """The secret behind the digests."""

    path: Path | None = None
    key: bytes = field(repr=False, default=b"")
    created: bool = False
    """Whether the file was made just now."""

    def digest(self, pseudonym: str) -> str:
        """Return the digest of *pseudonym*, 16 hexadecimal digits; blanks around it do not count."""
        plain = unicodedata.normalize("NFC", pseudonym.strip()).encode()
        return blake2b(plain, key=self.key, digest_size=DIGEST_BYTES).hexdigest()


def default_salt_path() -> Path:
    """Return where the salt lies unless the user says otherwise: in the settings folder of the user."""
    if os.name == "nt":
        settings = os.environ.get("APPDATA") or str(Path.home())
    else:
        settings = os.environ.get("XDG_CONFIG_HOME") or str(Path.home() / ".config")
    return Path(settings) / "stemwright" / "salt"


def load_salt(path: Path | None = None, *, create: bool = True) -> Salt:
    """Return the salt of the file *path* (None: `default_salt_path`), made where it is missing and *create* is given.

    The file is made for its owner only (0600).

    Raises:
        BadInput: it is missing (``salt-missing``), is no salt (``salt-damaged``), or cannot be written or read.
    """
    place = path or default_salt_path()
    odd = odd_about(place)
    if odd and odd != NO_FILE:
        raise BadInput(Problem("salt-unreadable", Place(shown_path(place)), "", odd, "name another file with --salt"))
    if odd:
        if not create:
            raise BadInput(Problem("salt-missing", Place(str(place)), "", "there is no such salt file",
                                   "name the file with --salt"))
        return _made(place)
    try:
        text = place.read_text(encoding="ascii")
    except OSError as error:
        raise BadInput(Problem("salt-unreadable", Place(str(place)), "",
                               f"cannot be read ({error.strerror or error})", "check its permissions")) from error
    except UnicodeDecodeError:
        text = ""
    digits = text.removeprefix(_HEADER).strip()
    if not text.startswith(_HEADER) or not re.fullmatch(f"[0-9a-f]{{{2 * SALT_BYTES}}}", digits):
        raise BadInput(Problem("salt-damaged", Place(str(place)), "", "is no salt file",
                               "name the salt file that was made with the first import, or another path for a new one"))
    return Salt(path=place, key=bytes.fromhex(digits))


def _made(place: Path) -> Salt:
    key = secrets.token_bytes(SALT_BYTES)
    try:
        private_folder(place.parent)
        make_private(place)
        place.write_text(_HEADER + key.hex() + "\n", encoding="ascii")
        note_change(place)
    except OSError as error:
        raise BadInput(cannot_write(place, error)) from error
    return Salt(path=place, key=key, created=True)


def salt_remarks(salt: Salt, bank: Path) -> list[str]:
    """Return what the user should be told of the file of *salt*, which serves the *bank*."""
    said = []
    if salt.path is None:
        return said
    if salt.created:
        said.append(f"a new salt was made: {salt.path}; keep it, and keep it to yourself: without it the same pupil"
                    " gets another digest next time, and with it pseudonyms can be traced")
    if salt.path.resolve().parent == bank.resolve().parent:
        said.append(f"the salt {salt.path} lies beside the bank: whoever gets the folder can trace pseudonyms")
    if others_may_read(salt.path):
        said.append(f"others on this computer may read the salt {salt.path}; take their permission away (0600)")
    return said


def plain_heading(heading: str) -> str:
    """Return *heading* in small letters, accents and punctuation taken off."""
    plain = "".join([one for one in unicodedata.normalize("NFKD", heading) if not unicodedata.combining(one)])
    return " ".join(re.sub(r"[\W_]+", " ", plain).casefold().split())


def is_naming(heading: str) -> bool:
    """Whether a column with this *heading* would hold names, addresses or birthdays."""
    return plain_heading(heading) in NAMING_HEADERS


def looks_like_mail(value: str) -> bool:
    """Whether *value* holds an e-mail address."""
    return "@" in value and _MAIL.search(value) is not None


def looks_like_name(value: str) -> bool:
    """Whether *value* looks like the name of a person: words of letters, each with a capital, no digit in them."""
    words = value.replace(",", " ").replace(".", " ").split()
    if not 1 <= len(words) <= 4:
        return False
    for word in words:
        letters = word.replace("-", "").replace("'", "").replace("\u2019", "")
        if not letters.isalpha() or not word[0].isupper():
            return False
    return any(len(word) > 1 and word[1:].lower() == word[1:] for word in words) or len(words) > 1


def mail_reason(values: Iterable[str]) -> str:
    """Return that *values* hold an address where they do, else nothing."""
    return "holds e-mail addresses" if any(map(looks_like_mail, values)) else ""


def naming_reason(values: Iterable[str], *, groups: bool = False) -> str:
    """Return why *values* of one column look like names or addresses, or nothing where they do not.

    Of the names of *groups* only addresses and titles such as Mrs count: classes have names as well.
    """
    distinct: list[str] = []
    for value in dict.fromkeys(values):
        if value.strip():
            distinct.append(value.strip())
        if len(distinct) == _LOOKED_AT:
            break
    if mail_reason(distinct):
        return mail_reason(distinct)
    if groups:
        return "names people" if any(_TITLE.search(value + " ") for value in distinct) else ""
    if distinct and sum(map(looks_like_name, distinct)) > _ENOUGH * len(distinct):
        return "looks like names"
    return ""


def naming_problem(file: str, column: str, reason: str) -> Problem:
    """Return the problem that stops an import because a *column* of *file* names people."""
    return Problem("names-people", Place(file, 1, 1), column, f"{reason}; nothing was read from the file",
                   HOW)


def digests(pseudonyms: Sequence[str], salt: Salt) -> tuple[str, ...]:
    """Return the digests of *pseudonyms*, in order."""
    return tuple(map(salt.digest, pseudonyms))

"""How this house writes figures, dates and words on pages, in packs and for spreadsheets, as `[locale]` says it."""

from typing import Annotated, Literal

from msgspec import Meta

from audit.setting_types import Table, Unfit, dotted
from audit.vocabulary import CARE_EVENTS, READ_CATEGORIES

Paper = Literal["a4", "us-letter"]
DateForm = Literal["2031-04-07", "07.04.2031", "07/04/2031", "07-04-2031", "04/07/2031"]
# what is printed, so nothing that could be read as markup
ShownWord = Annotated[str, Meta(pattern=r"^[^\x00-\x1f<>`*_\[\]{}|\\$#~]{1,60}$")]
_KNOWN = {
    "events": CARE_EVENTS,
    "categories": tuple(dict.fromkeys(word for words in READ_CATEGORIES.values() for word in words)),
}


class LocaleTable(Table, frozen=True):
    """One value per key of the table; see there for sources. Roles may be the unit's own."""

    decimal: Literal[".", ","]
    thousands: Literal[",", ".", " ", "'", ""]
    date: DateForm
    paper: Paper
    events: dict[str, ShownWord]
    roles: dict[str, ShownWord]
    categories: dict[str, ShownWord]
    words: dict[str, ShownWord]

    def __post_init__(self) -> None:
        if self.decimal == self.thousands:
            raise Unfit("thousands", self.thousands, f"another sign than decimal ({self.decimal!r})")
        for table, known in _KNOWN.items():
            own = getattr(self, table)
            for word in own:
                if word not in known:
                    raise Unfit(dotted(table, word), own[word], f"a key that is one of {', '.join(known)}")
                # what is shown for one must not read as another, or a page would say what was not found
                shown = {other: own.get(other, other.replace("_", " ")).casefold() for other in known}
                if any(shown[other] == shown[word] for other in known if other != word):
                    raise Unfit(dotted(table, word), own[word], "a word that none of the others is shown as")

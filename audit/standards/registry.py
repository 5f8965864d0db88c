"""The standards by name."""

from audit.standards import figo_1986, figo_2015, nice_ng229, nichd_2008
from audit.standards.evaluation import Standard

STANDARDS: dict[str, Standard] = {
    standard.name: standard for standard in (nichd_2008.STANDARD, figo_2015.STANDARD, nice_ng229.STANDARD)
}

# Not for review: only to compare the computed reading with reads that were made under it.
FORMER_STANDARDS: dict[str, Standard] = {figo_1986.NAME: figo_1986.STANDARD}

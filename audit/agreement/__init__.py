"""How far readers agree: figures with intervals, from plain columns of reads."""

from audit.agreement.document import agreement_document
from audit.agreement.options import AgreementOptions
from audit.agreement.reads import ReadsTable, arrange, window_key
from audit.agreement.scales import scale_for

__all__ = ["AgreementOptions", "ReadsTable", "agreement_document", "arrange", "scale_for", "window_key"]

"""Retrospective review of intrapartum fetal heart tracings."""

__version__ = "0.1.0"

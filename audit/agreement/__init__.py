"""How far readers agree: figures with intervals, from plain columns of reads."""

"""What people write: agenda, blind reads, disclosures, findings, actions, phases. A small store beside the database."""

"""From files to rows and rejects; the importer owns the transaction."""

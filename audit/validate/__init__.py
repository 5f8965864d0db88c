"""The computed reading beside the nine experts of the open intrapartum database."""

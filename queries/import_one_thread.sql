-- question: (changes rows) Let the database work in one thread: small transactions gain nothing from more.
-- row: none; the other processor reads the next file meanwhile
set threads = 1

-- question: (changes rows) Let the database work in one thread: small transactions gain nothing from more.
-- row: none; the other processor reads the next file meanwhile, and memory stays below the 2 GiB that were set as a goal
set threads = 1;
set memory_limit = '1GiB';

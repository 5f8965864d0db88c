-- question: (changes rows) Let the database work in one thread and keep little of itself in memory.
-- row: none; small transactions gain nothing from more, the other processor reads meanwhile, and what does not fit waits on disk: memory does not grow with the number of cases
set threads = 1;
set memory_limit = '512MiB';

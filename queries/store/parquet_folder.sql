-- question: In which folder lie the Parquet files that this database reads in place?
-- row: one; NULL where it holds its samples and findings itself
-- excludes: nothing
-- column: folder varchar
select max(folder) as folder from parquet_files

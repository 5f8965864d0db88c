-- question: Which Parquet files does this database read in place, and what were they when the run had ended?
-- row: one file
-- excludes: nothing
-- column: file varchar, path in the run's folder
-- column: bytes bigint
-- column: sha256 varchar
select file, bytes, sha256 from parquet_files order by file

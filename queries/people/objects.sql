-- question: Of what does the store consist, and how is each part made?
-- row: one table, index, trigger or view
-- excludes: what the engine keeps for itself
-- column: kind text
-- column: name text
-- column: made text, the text of a trigger, an index or a view; of a table its columns
select
    type as kind,
    name,
    case type
        when 'table' then (select group_concat(c.name || ' ' || c.type, ', ') from pragma_table_info(o.name) as c)
        else coalesce(sql, '')
    end as made
from sqlite_schema as o
where name not like 'sqlite_%'
order by type, name

-- question: What would each tracing's reading be given, and what was it given last time?
-- row: one fetus's tracing
-- excludes: cases without a tracing
-- column: case_id varchar
-- column: fetus varchar
-- column: leads boolean, the case's first fetus: its toco stands for the labour
-- column: stretches varchar, start, sample count and content hash of every stored stretch, in order of time
-- column: facts varchar, the case's facts that the reading and the clock may use
-- column: events varchar, the care events in order
-- column: windows varchar, the windows that readers read, with their reads
-- column: state varchar, read, failed or NULL when it was never read
-- column: has_findings boolean, findings of a former reading stand, though a later one may have failed
-- column: inputs_sha256 varchar, of the reading whose findings stand, else of the last one
-- column: settings_sha256 varchar, likewise
-- column: version varchar, likewise
with stretches as (
    select
        case_id,
        fetus,
        string_agg(start_s || ':' || samples || ':' || content_sha256, ' ' order by start_s) as stretches
    from tracings
    group by case_id, fetus
),
events as (
    select
        case_id,
        to_json(
            list(struct_pack(at_s := at_s, event := event, urgency := urgency) order by at_s, event, urgency)
        )::varchar as events
    from care_events
    group by case_id
),
windows as (
    select
        case_id,
        fetus,
        to_json(
            list(
                struct_pack(
                    reader := reader, start_s := start_s, end_s := end_s, standard := standard,
                    category := category, would_act := would_act, outcome_hidden := outcome_hidden,
                    occasion := occasion
                )
                order by reader, start_s, end_s, standard, occasion
            )
        )::varchar as windows
    from reads
    group by case_id, fetus
),
facts as (
    select
        c.case_id,
        to_json(
            struct_pack(
                gestation_weeks := gestation_weeks, plurality := plurality, second_stage_s := second_stage_s,
                period := period, birth_s := birth_s, mode_of_birth := mode_of_birth, fhr_sensor := fhr_sensor,
                toco_sensor := toco_sensor, fetuses := f.fetuses
            )
        )::varchar as facts
    from cases as c
    inner join (
        select case_id, list(distinct fetus order by fetus) as fetuses from tracings group by case_id
    ) as f on f.case_id = c.case_id
)
select
    s.case_id,
    s.fetus,
    row_number() over (partition by s.case_id order by s.fetus) = 1 as leads,
    s.stretches,
    coalesce(f.facts, '{}') as facts,
    coalesce(e.events, '[]') as events,
    coalesce(w.windows, '[]') as windows,
    t.state,
    t.seen_fraction is not null as has_findings,
    t.inputs_sha256,
    t.settings_sha256,
    t.version
from stretches as s
left join facts as f on f.case_id = s.case_id
left join events as e on e.case_id = s.case_id
left join windows as w on w.case_id = s.case_id and w.fetus = s.fetus
left join tracing_states as t on t.case_id = s.case_id and t.fetus = s.fetus
order by s.case_id, s.fetus

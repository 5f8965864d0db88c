-- question: What happened in each labour, beside what it brought with it?
-- row: one labour
-- excludes: nothing
-- param: standard varchar, whose triggers count as a concern
-- param: least_seen_fraction double, of the tracing
-- param: least_seen_minutes double, of signal
-- param: acidosis_ph_below double, of the umbilical artery
-- param: period varchar, month of birth, YYYY-MM; NULL = every month, none = cases without one
-- column: case_id varchar
-- column: period varchar, NULL = not given
-- column: unit varchar, NULL = the only one, or not given
-- column: gestation_weeks double, NULL = not given
-- column: parity integer, NULL = not given
-- column: plurality integer, NULL = not given
-- column: onset_of_labour varchar, NULL = not given
-- column: risk_factors varchar, coded, separated by blanks; empty = none; NULL = not given
-- column: language_need varchar, a band; NULL = not given
-- column: ethnicity_group varchar, a band; NULL = not given
-- column: deprivation_fifth varchar, a band; NULL = not given
-- column: age_band varchar, a band; NULL = not given
-- column: body_mass_band varchar, a band; NULL = not given
-- column: concern boolean, NULL = its tracing was not read, or hardly seen
-- column: caesarean boolean, NULL = mode of birth not given
-- column: acidosis boolean, any newborn's pH below the limit; NULL = no cord gas
-- column: admission boolean, any newborn to a neonatal unit; NULL = not given
with newborns as (
    select
        case_id,
        bool_or(cord_artery_ph < $acidosis_ph_below) as acidosis,
        bool_or(neonatal_unit_admission) as admission
    from outcomes
    group by case_id
)
select
    c.case_id,
    c.period,
    c.unit,
    c.gestation_weeks,
    c.parity,
    c.plurality,
    c.onset_of_labour,
    c.risk_factors,
    c.language_need,
    c.ethnicity_group,
    c.deprivation_fifth,
    c.age_band,
    c.body_mass_band,
    case
        when
            l.analysed
            and l.seen_hours >= $least_seen_fraction * l.read_hours
            and 60 * l.seen_hours >= $least_seen_minutes
            then list_contains(l.concern_standards, $standard)
    end as concern,
    c.mode_of_birth = 'caesarean' as caesarean,
    n.acidosis,
    n.admission
from cases as c
inner join labours as l on l.case_id = c.case_id
left join newborns as n on n.case_id = c.case_id
where in_month(c.period, $period)
order by c.unit, c.case_id

-- One row per film checkpoint of an exercise and side.
select
    film.athlete_id,
    athletes.squad,
    film.filmed_on,
    film.exercise,
    coalesce(exercises.name, replace(film.exercise, '_', ' ')) as exercise_name,
    film.side,
    film.checkpoint,
    film.finding,
    film.note,
    film.source_file,
    film.source_sheet,
    film.source_line
from raw_film as film
left join ref_exercises as exercises on film.exercise = exercises.exercise
left join stg_athletes as athletes on film.athlete_id = athletes.athlete_id

# Headings, legend and labels of the map.

map_how_sure = How sure
map_meter_test = Meter test
map_air_tests = Air tests
map_place = Place
map_verdict = Verdict
map_heard = Heard
map_listen_next = Listen next
map_do_next = What to do next, and what to expect of it
map_about_actions = The best for the assumed minutes first. Doubt: what sounds, and where.
map_what = What
map_minutes = Minutes
map_less_doubt = Doubt shrinks by
map_ways_to_improve = Ways to improve
map_walk_first = Where to walk first, by the fittings
map_if_leak = If these pipes leak
map_fittings = Fittings, the loudest first
map_rank = Rank
map_fitting = Fitting
map_level = Level
map_the_line = The line
map_link = Link to this line:
map_all_lines = All lines
map_conflicts = Utilities in conflict
map_request = Locate request: white line
map_latitude = Latitude, longitude (WGS 84)
map_by_tape = Find the mark again by tape
map_from = From
map_distance = Distance
map_direction = Direction
map_what_holds = What holds the dig
map_cautions = Cautions
map_number = No.
map_from_start = From the start
map_why = Why
map_clearance = clearance
map_answer = answer
map_to_do = to do
map_sound = Sound along the line
map_whole_line = Whole line
map_near_likeliest = Near the likeliest
map_sound_level = sound level, dB
map_density = leak density, given a leak
map_from_start_axis = distance from the start
map_mark = mark
map_likeliest = likeliest
map_every_status = Every status
map_held_by = Held by
map_find = Find a line
map_title = Marks, and what holds each dig
map_legend = Legend
map_to_map = To the map
map_each_reading = Every reading, in words
map_reading = Reading
map_layers = Layers
map_l_mark = mark, with its error along and across (95 % each, given a leak)
map_l_likeliest = likeliest place so far: no mark yet
map_l_zone = search zone, the darker the likelier
map_l_reading = reading at its place on the pipe, seen close: quiet to loud on its line
map_l_unused = reading not used
map_l_next = where to listen next, in order
map_l_dig = proposed excavation
map_l_white = white line: where to ask marks for
map_l_walk = stretch to walk first, the fuller the likelier
map_l_fitting = fitting: quiet to loud
map_l_air = air test; filled: the leak sounds there
map_l_cluster = lines close together; black: the share with a mark
map_l_pipe_mark = pipe with a mark
map_l_pipe_open = pipe: not located yet
map_l_pipe_quiet = pipe: no leak heard
map_l_pipe_none = pipe: not worked out
map_l_conflict = utility in conflict
map_l_fix = show the fix of each reading as recorded
map_l_unknown = utility of unknown position (name and ?)
map_water_line = water line

# Layers.

group_bracket = Where to walk first
group_utilities = Other utilities
group_pipes = Pipes
group_conflicts = Conflicts
group_request = White lines
group_dig = Proposed excavation
group_zones = Search zones
group_fittings = Fittings listened to
group_readings = Readings
group_next = Listen next
group_air = Air tests
group_marks = Marks

# Answer of a utility's owner, and what is known of the holds.

owner_answered = answer: { TERM($response, kind: "response") }
owner_silent = no answer
holds_recorded_at = Holds as recorded at { DAY($time) } UTC
holds_not_dated = Holds as recorded; no answer is dated
response_marked = marked
response_clear = clear
response_not_present = not present
response_on_site = on site
not_on_map = { $every ->
    [yes] No line is placed on the ground, so this map draws none: the list gives their taped distances.
   *[other] Not placed on the ground, so not drawn: { JOIN($lines) }{ more_names }. The list gives their taped distances.
}

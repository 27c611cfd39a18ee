# The panel in QGIS, and `leakgeo ask`: what lies under the pointer, and its headings.

panel_stop = Stop { $reading }: { DECIMALS($level_db, digits: 1) } dB
panel_stop_without_level = Stop { $reading }: no level that can be compared
panel_at = { LENGTH($chainage_m) } along the pipe
panel_taped = Taped { $tape }
panel_taped_from = Taped { $tape } from { $fitting }
panel_taped_toward = Taped { $tape } from { $fitting } toward { $toward }
panel_by_position = Placed by its position
panel_used = Used
panel_not_used = Not used: { $why }
panel_aside_here = Left out in this "what if" alone; the data are unchanged.
panel_near = { PERCENT($probability, at: "start") } that there is a leak within { FOOT() } of here
panel_level_here = Sound { DECIMALS($level_db, digits: 1) } dB, give or take { DECIMALS($sd_db, digits: 1) }
panel_zone = { PERCENT($probability, at: "start") } that there is a leak from { LENGTH($from_m, round: "down") } to { LENGTH($to_m, round: "up") }
panel_mark = Mark, { LENGTH($chainage_m) } along the pipe
panel_likeliest = Likeliest place so far, { LENGTH($chainage_m) } along the pipe; no mark yet
panel_fitting = { $what }, { LENGTH($chainage_m) } along the pipe
panel_next = Listen next, stop { $order }: { LENGTH($chainage_m) } along the pipe
panel_next_taped = Listen next, stop { $order }: { $taped } ({ LENGTH($chainage_m) } along the pipe)
panel_what_if = What if: without { JOIN($readings) }. The data are unchanged.

## Headings and the legend of the plot

panel_how_sure = How sure
panel_evidence = Evidence for and against
panel_else = What else it may be
panel_holds = What holds the dig
panel_actions = What to do next, and what to expect of it
panel_stops = Stops
panel_faults = Notes on the data
panel_axis = along the pipe
panel_level = sound, dB
panel_odds = odds of the leak
panel_l_used = stop used
panel_l_unused = not used
panel_l_aside = set aside
panel_l_zone = search zone
panel_l_mark = mark
panel_l_likeliest = likeliest so far
panel_l_next = listen next
panel_l_fitting = fitting

## Help pages of the commands in the plugin

page_plugin = leakgeo in QGIS
page_layers = Layers
page_choose = Choose layers of the project, or in their place the file of a job that has them.
page_points = points
page_lines = lines
page_areas = areas
page_table = table
page_needed = needed
page_optional = optional
page_in = in { $unit }
page_or = or
page_least = at least { $value }
page_most = at most { $value }
page_default = default { $value }
page_on = on
page_required = required
page_results = Results
page_files = Files
page_calls = On the command line

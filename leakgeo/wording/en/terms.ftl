# Codes of the data contract, and the words of quantities.

unknown = unknown
percent_over_99 = over 99 %
percent_under_1 = under 1 %
unit_litres = litres
unit_gallons = gallons
range_to = to
range_about = about
one_foot = one foot
odds_in = in
odds_over = over
odds_under = under

status_located = Mark set
status_keep_listening = Keep listening
status_ambiguous = Several places possible
status_other_source = Another source sounds
status_beyond_end = Beyond the end of the line
status_no_leak_heard = No leak heard
status_not_listened_to = Not listened to
status_rejected = Not computed

limit_sound = the sound limits the error: ambient noise, or a leak that is not loud
limit_position = positions of the readings too coarse for a smaller error: tape the stops
limit_spacing = readings too far apart for a smaller error: listen in between
limit_trace = sweeps across are loudest beside the trace: trace the pipe again
limit_shape = level unlike that over one leak: sweep across the pipe, and listen with another sensor

severity_inside_tolerance = inside the tolerance zone
severity_near = near
severity_unknown_position = position not known

rule_on_record = tolerance_m on record
rule_case_single_mark = single mark
rule_case_size_marked = size marked
rule_case_size_assumed = size assumed
rule_case_outside_marks = outside marks

utility_electric = electric
utility_gas_oil_steam = GAS, OIL or STEAM
utility_gas = GAS
utility_oil = OIL
utility_steam = STEAM
utility_communications = communications
utility_potable_water = potable water
utility_reclaimed_water = reclaimed water
utility_sewer_drain = sewer drain
utility_unknown = unknown
utility_utility = utility

# Parameters of the locate tickets, as the people on the job know them.
ticket_dig_date = the day of the dig
ticket_notice_days = the notice period
ticket_validity_days = the validity of tickets
ticket_holidays = the public holidays

as_given = { $text }
    .remedy = { $remedy }

# Utilities in a headline: those that can kill in capitals.
hazard_electric = ELECTRIC
hazard_gas_oil_steam = { utility_gas_oil_steam }
hazard_gas = { utility_gas }
hazard_oil = { utility_oil }
hazard_steam = { utility_steam }
hazard_communications = { utility_communications }
hazard_potable_water = { utility_potable_water }
hazard_reclaimed_water = { utility_reclaimed_water }
hazard_sewer_drain = { utility_sewer_drain }
hazard_unknown = { utility_unknown }
hazard_utility = { utility_utility }

# Fittings.
fitting_hydrant = hydrant
fitting_hose_bib = hose bib
fitting_meter = meter
fitting_main_valve = main valve
fitting_curb_stop = curb stop
fitting_sink = sink
fitting_water_heater = water heater
fitting_pressure_reducing_valve = pressure reducing valve
fitting_pump = pump
fitting_backflow_preventer = backflow preventer
fitting_stop_valve = stop valve
fitting_other = other
fitting_fitting = fitting

# Next actions, in short.
step_listen = Listen at the stops listed below
step_walk_on = Walk on to the stops listed below
step_sweep = Sweep across the line
step_listen_beyond = Listen at the fittings beyond
step_read_meter = Have the owner shut the house valve, and read the meter
step_close_valve = Have the owner's people close valves, and see whether the loss stays
step_air = Listen with injected air on and off
step_trickle = Open a tap to a trickle, and listen
step_night = Listen again late at night
step_look_inside = Look for running water in the building
step_shut_fitting = Have shut or bypassed by its owner
step_find_source = Find what else sounds
step_trace_again = Trace the pipe again
step_probe = Listen again with a probe pushed in, after all utilities are marked
step_tape = Tape the stops from a known fitting
step_pressure = Have the pressure raised within the rating

# A loss of water.
per_day_litres = litres a day
per_day_gallons = gallons a day

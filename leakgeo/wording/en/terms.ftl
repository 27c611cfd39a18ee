# Codes of the data contract, and words that quantities are told with.

unknown = unknown
percent_over_99 = over 99 %
percent_under_1 = under 1 %
unit_litres = litres
unit_gallons = gallons
range_to = to
range_about = about
one_foot = one foot

status_located = Mark set
status_keep_listening = Keep listening
status_ambiguous = Several places possible
status_other_source = Another source sounds
status_beyond_end = Beyond the end of the line
status_no_leak_heard = No leak heard
status_not_listened_to = Not listened to
status_rejected = Not worked out

limit_sound = the sound limits it: repeat at a quiet hour
limit_position = the positions of the readings limit it
limit_spacing = the spacing of the readings limits it

severity_inside_tolerance = inside the tolerance zone
severity_near = near
severity_unknown_position = position not known

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

as_given = { $text }
    .remedy = { $remedy }

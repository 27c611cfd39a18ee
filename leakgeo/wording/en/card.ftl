# The card of a line: what holds the dig, where the place is, and what to do next.

## Place, as a crew tapes it

taped_place = { LENGTH($by_m) } from { $fitting } toward { $toward }
at_fitting = at { $fitting }
fitting = { TERM($kind, kind: "fitting") } { $contact }
fitting_alone = { $contact }
trace_start = start of the route
trace_end = end of the route
trace_bend = bend { $number } of the route
start_of_route = the start of the route
end_of_route = the end of the route

## What holds the dig

held_by = { JOIN($what, by: "; ") }
more_utilities = { $utilities ->
    [one] 1 more utility
   *[other] { $utilities } more utilities
}
held_by_paperwork = tickets are not complete
in_the_way = { TERM($kind, kind: "hazard") } { $where }
in_the_way_and = { TERM($kind, kind: "hazard") } { $where }, { $why }
in_the_hole = in the hole
at_the_hole = beside the hole, inside its tolerance zone
near_the_hole = near the hole
position_unknown = of unknown position
card_owner_not_notified = owner not notified
card_no_answer = owner has not answered
card_emergency_no_answer = emergency ticket: owner has not answered and is not on site
card_on_site_without_answer = owner on site, but has not answered
card_answer_not_understood = answer not understood
card_mark_not_seen = its mark not seen
card_private_not_marked = private and not marked
card_private_not_known = private or not: unknown
card_ticket_expired = ticket expired
card_notice_short = notice too short
card_answer_before_notice = answer older than the notice
card_dated_after_dig = answer dated after the dig
card_record_rejected = record faulty
card_line_not_placed = { line_not_placed.brief }
card_hole_not_drawn = { hole_not_drawn.brief }
card_error_longer_than_hole = { error_longer_than_hole.brief }
card_cover_not_known = { cover_not_known.brief }
card_no_utility_on_record = { no_utility_on_record.brief }
card_no_utilities_layer = { no_utilities_layer.brief }
card_no_utilities_rows = { no_utilities_rows.brief }
card_utilities_without_position = utilities without a position
card_mark_lacks = the mark's own figures are incomplete
card_line_under_pressure = { line_under_pressure.brief }
card_pressure_not_known = { pressure_not_known.brief }
card_air_in_line = { air_in_line.brief }

## Holds summed up for a line

utility_in_short = { TERM($kind, kind: "hazard") } { $utility }
utility_lacks = { utility_in_short } ({ JOIN($lacks, by: ", ") })
lacks_ticket_number = number of the ticket
lacks_notice_time = time of the notice
lacks_answer_time = time of the answer
tickets_incomplete = Tickets incomplete for: { JOIN($utilities, by: "; ") }
    .brief = tickets incomplete
records_incomplete = Records incomplete for: { JOIN($utilities, by: "; ") }
    .brief = records incomplete

## What to do next about a dig

do_listen_on = keep listening: this is a stretch to search, not a hole.
do_for_notify_owner = notify the { TERM($kind, kind: "hazard") } owner ({ $utility }) through the one-call centre.
do_ask_owners = get the answer of every utility owner through the one-call centre.
do_for_get_answer = get the { TERM($kind, kind: "hazard") } owner's answer ({ $utility }).
do_for_renew_ticket = renew the locate ticket for { TERM($kind, kind: "hazard") } { $utility }.
do_for_wait_for_notice = wait until the notice to the { TERM($kind, kind: "hazard") } owner ({ $utility }) is long enough.
do_for_private_locator = have the owner or a private locator mark { TERM($kind, kind: "hazard") } { $utility }.
do_for_find_mark = look for the mark of { TERM($kind, kind: "hazard") } { $utility } on the ground, or ask its owner again.
do_for_have_located = have { TERM($kind, kind: "hazard") } { $utility } located, or exposed by hand or vacuum.
do_for_correct_record = correct the record of { TERM($kind, kind: "hazard") } { $utility }.
do_correct_records = correct the utility records without a position: they could be anywhere.
do_for_check_ticket = check the ticket of { TERM($kind, kind: "hazard") } { $utility }: its number, its notice and how long it is valid.
do_check_ticket = check the locate ticket: its number, its notice and how long it is valid.
do_place_line = place the line on the ground: draw it, or give the positions of two of its fittings.
do_probe_depth = probe how deep the pipe lies.
do_shut_line = have the line shut off and the pressure let out, or have the person in charge decide.
do_vent_line = vent the air from the line.
do_for_expose = expose { TERM($kind, kind: "hazard") } { $utility } by hand or vacuum before anything else is dug.
do_correct_mark = complete the mark's figures.
no_hold_on_record = let the person in charge of the dig decide; nothing recorded holds it.

## Card

card_hold = HOLD
card_next = Next
card_caution = Nothing here clears the dig.
card_every_dig = Every dig

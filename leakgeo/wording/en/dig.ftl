# Holds of a dig, cautions, and what to do about each utility near it.

utility_name = { TERM($kind, kind: "utility") } { $utility } ({ $owner })
utility_in_row = in row { $row }
owner_not_known = owner not known

## Holds of one utility; ``.short`` is for a sheet that names the utility once.

record_rejected = { $utility }: { record_rejected.short }
    .short = its record was rejected and has to be corrected
no_utility_id = { $utility }: { no_utility_id.short }
    .short = it has no utility_id
kind_not_known = { $utility }: { kind_not_known.short }
    .short = its kind is not known
owner_missing = { $utility }: { owner_missing.short }
    .short = its owner is not known
width_not_known = { $utility }: { width_not_known.short }
    .short = its width is not known
shape_was_invalid = { $utility }: { shape_was_invalid.short }
    .short = its shape was invalid and has to be corrected
quality_level_not_known = { $utility }: { quality_level_not_known.short }
    .short = its quality level is not known
position_not_known = { $utility }: { position_not_known.short }
    .short = its position is not known (have it located or exposed)
owner_not_notified = { $utility }: { owner_not_notified.short }
    .short = its owner was not notified
no_answer = { $utility }: { no_answer.short }
    .short = its owner has not answered
emergency_no_answer = { $utility }: { emergency_no_answer.short }
    .short = emergency ticket: neither its owner's answer nor its presence on site is on record
on_site_without_answer = { $utility }: { on_site_without_answer.short }
    .short = its owner is on site, which is no answer to a routine ticket (get its marks or its answer)
answer_not_understood = { $utility }: { answer_not_understood.short }
    .short = its owner's answer is not understood
answer_time_not_known = { $utility }: { answer_time_not_known.short }
    .short = the time of the answer is not known
mark_not_seen = { $utility }: { mark_not_seen.short }
    .short = it is recorded as marked, but no mark inside the expected area is on record (look for it, or ask again)
private_not_marked = { $utility }: { private_not_marked.short }
    .short = it is private and no one-call centre marks it (have its owner or a private locator mark it)
private_not_known = { $utility }: { private_not_known.short }
    .short = it is not known whether it is private, so that no one-call centre marks it (enter no or yes in the column private)
no_ticket_number = { $utility }: { no_ticket_number.short }
    .short = its ticket has no number on record
notice_time_not_known = { $utility }: { notice_time_not_known.short }
    .short = the time of its notice is not known
answer_before_notice = { $utility }: { answer_before_notice.short }
    .short = its answer is older than its notice
notice_short = { $utility }: { notice_short.short }
    .short = its notice is short of { $days } full working days before the dig
ticket_expired = { $utility }: { ticket_expired.short }
    .short = its ticket is older than its validity of { $days } days
dated_after_dig = { $utility }: { dated_after_dig.short }
    .short = its notice or answer is dated after the dig
inside_tolerance_zone = { $utility }: { inside_tolerance_zone.short }
    .short = the hole is inside its tolerance zone (hand dig or vacuum only, and expose it first)
inside_tolerance_zone_by_records = { $utility }: { inside_tolerance_zone_by_records.short }
    .short = the hole is inside its tolerance zone by the records ({ $answered ->
        [yes] ask its owner again
       *[no] ask its owner
    })
inside_caution_zone = { $utility }: { inside_caution_zone.short }
    .short = the hole is inside its caution zone (hand dig or vacuum until it is exposed)

## Holds of a dig as a whole

not_located = the leak is not located on this line (keep listening): the result is a stretch to search, not a place to dig
    .brief = not located
line_not_placed = the line is not placed on the ground, so the mark is a taped distance along the pipe alone: no hole, utilities or locate request could be worked out (draw the line, or give the positions of two of its fittings)
    .brief = line not placed on the ground
hole_not_drawn = the mark's place or error is not known, so no hole could be drawn
    .brief = hole not drawn
error_longer_than_hole = the mark's 95 % error is longer than the longest hole allowed (keep listening)
    .brief = error longer than the hole
cover_not_known = the cover over the pipe is not known (measure it)
    .brief = cover not known
no_utility_on_record = no utility is on record near the hole, and no owner has answered for it: no record does not mean that nothing is there (enter each owner's answer in utilities)
    .brief = no owner has answered
no_utilities_layer = there is no utilities layer: missing data hold the dig, and clear nothing
    .brief = no utilities layer
no_utilities_rows = the utilities layer has no rows: missing data hold the dig, and clear nothing
    .brief = utilities layer empty
utilities_without_position = { $records } utility records have no usable position and could be anywhere (correct them)
    .brief = utilities without a position
ticket_not_checked = not checked: notice and validity of the locate tickets (missing: { JOIN($lacks, by: ", ", kind: "ticket") })
    .brief = ticket not checked
mark_lacks = the mark has no { $column }
    .brief = mark without { $column }
line_under_pressure = the line is under pressure (shut it off, or have the person in charge decide)
    .brief = line under pressure
pressure_not_known = the pressure in the line is not known (take it as under pressure)
    .brief = pressure not known
air_in_line = air was injected into the line (vent it, and check that it is at rest)
    .brief = air in the line

## Cautions

dig_deep = { LENGTH($depth_m, round: "up") } deep: at { LENGTH(1.524) } or more 29 CFR 1926.652(a)(1) requires a protective system, unless the hole is all in stable rock
dig_shallow = { LENGTH($depth_m, round: "up") } deep: under { LENGTH(1.524) } a competent person examines the ground, and a protective system is required on any sign of a cave-in (29 CFR 1926.652(a)(1))
dig_depth_unknown = the depth is not known: expect to need a protective system (29 CFR 1926.652(a)(1))
depth_on_record = the depth is from the cover on record: probe before relying on it
depth_by_ground = the depth is from the ground model less the pipe's Z, which is taken as that of its crown: probe before relying on it
covers_differ = the ground model less the pipe's Z gives a cover of { LENGTH($by_ground_m) }, and the record { LENGTH($on_record_m) }: expect either
spoil = keep spoil { LENGTH($back_m) } or more from the edge (29 CFR 1926.651(j)(2))
under_pressure = the line is under pressure unless it was shut off: know which valve shuts it
pressure_unknown = the pressure in the line is not known: take it as under pressure
vent_air = air was injected into the line while listening: vent it
other_pipes_unknown = a tape does not show which pipes run beside this line or join it: the sound may come from one of them, so listen along those too
trace_assumed_straight = the line is assumed straight between two of its fittings: it may bend away from the hole, so have it located first
direction_unknown = the direction of the pipe is not known: the hole is drawn round
void_under_pavement = a leak may have washed out the ground under the pavement: probe for voids, and keep vehicles and people off unless the competent person decides otherwise (common practice); pavement may not be undermined unless a support or another protection against its collapse is in place (29 CFR 1926.651(i)(3))
traffic = the mark is on a paved way, perhaps a road: set up traffic control as the road's authority requires, and wear high-visibility clothing where public traffic passes (29 CFR 1926.651(d))
ground_cover_unknown = the ground cover at the mark is not known: where there is pavement, expect voids under it; where there is a road, expect traffic and set up traffic control as its authority requires (common practice)
water_logged = expect water-logged ground at a leak: nobody works in a hole where water stands or gathers unless adequate precautions against it are taken (29 CFR 1926.651(h)(1)), and soil that is under water or that water freely seeps from is of Type C (29 CFR 1926 Subpart P, Appendix A)
bond_metal = the pipe is of metal and may carry current, as a building's wiring may be grounded to it (NFPA 70, 250.52(A)(1)): before it is cut or parted, or a meter is taken out, have someone licensed bond across the gap by local code, and treat the pipe as live before and after (common practice)
asbestos_cement = the pipe is asbestos cement: a competent person for asbestos classifies the work, and only people trained for it cut or break the pipe (29 CFR 1926.1101); where the pipe crumbles or is crushed, 40 CFR 61, Subpart M may apply; local law may require a license, and governs disposal
pipe_material_unknown = the pipe's material is not known: until it is seen, treat it as metal that may carry current and as asbestos cement, and have licensed people decide before it is cut (common practice)
confined_space = valves and meters of this line may stand in a vault or pit, which may be a permit space: before work begins, a competent person identifies whether it is (29 CFR 1926.1203(a)); until then treat it as one (common practice)
hearing = protect your ears while listening here: turn the gain low before the sensor is moved and before air is turned on (common practice; limits of noise: 29 CFR 1926.52)
emergency_ticket = { $utilities ->
    [one] 1 utility was
   *[other] { $utilities } utilities were
} notified by an emergency ticket, whose notice period is not checked: local law and the one-call centre decide what is an emergency, and what it requires before digging
oldest_answer = the oldest answer is from { DAY($date) } (UTC): check that the ticket is still valid
ticket_runs_out = the first ticket here expires at the end of { DAY($date) }
in_caution_zone = { $utilities } utilities within the caution zone of { LENGTH($caution_m) }
own_tolerance_less = { $utilities } utilities state a tolerance of their own that is less than the rule's: use the wider of the two
ask_private = lines behind a meter, on a campus or a lot, often get no marks: ask the owner of the ground, and have a private locator check
rule_in_force = tolerance rule { $rule } ({ $source }; { DAY($date) }): local law and the one-call centre govern, and this list never clears a dig

## What to do about a utility near the hole

action_inside_tolerance = Expose it by hand or vacuum before anything else is dug; no power tool inside its tolerance zone.
action_near = Keep power tools out of its tolerance zone, and watch for it.
action_unknown_position = Have its owner locate it, or expose it by hand or vacuum, before anything else is dug.
utility_depth_unknown = Its depth is not known: expect it at any depth.
utility_depth = Its record says { LENGTH($depth_m) } deep: do not rely on it.
utility_below_hole = Its record says { LENGTH($depth_m) } deep, { LENGTH($gap_m) } below the hole: do not rely on it.
utility_within_hole = Its record says { LENGTH($depth_m) } deep, within the hole's depth: do not rely on it.

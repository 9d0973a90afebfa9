#include "core/door/phrases.h"

/// One entry for each sentence that the core makes. Ids are never reused and never change their
/// arguments: tables of translations hang on them. tests/unit/phrases_test.cpp notices a sentence
/// that has changed without its entry.
namespace chipfall {
namespace {

constexpr CatalogueEntry kCatalogue[] = {
    // Duties of earlier lists; before all else, since what follows a `;` may be one of these.
    {"since.passed-on", "[{why}; ]passed on {age}[, on {count} lists by now][: {reason}]"},
    {"since.left-open", "[{why}; ]left open {age}[, on {count} lists by now][: {reason}]"},
    {"age.now", "just now"},
    {"age.minutes", "{count} min ago"},
    {"age.hours", "{count} h ago"},
    {"age.day", "1 day ago"},
    {"age.days", "{count} days ago"},
    {"age.week", "1 week ago"},
    {"age.weeks", "{count} weeks ago"},

    // Zones.
    {"zone.why",
     "{fallen} fell here[ from {machines}][, {before} lay here before]; {load}, clean is {clean}"
     "[. The layer nears the housekeeping limit of {limit}]"},
    {"zone.heap-vac", "{zone}: gather the heap ({volume}), then vac"},
    {"zone.heap-sweep", "{zone}: gather the heap ({volume}), then sweep"},
    {"zone.clean", "{zone}: Clean"},
    {"zone.vac", "{zone}: Vac"},
    {"zone.sweep", "{zone}: Sweep"},
    {"zone.brush", "{zone}: Brush off"},
    {"zone.wipe", "{zone}: Wipe"},
    {"zone.open-floor", "Open floor"},
    {"zone.metal",
     "Metal grit lies here: let it cool, brush it into the metal tin, and keep it out of wood "
     "dust, wood vacs and wood extraction."},
    {"zone.machine-off", "Machine off and unplugged or locked out before you reach in."},
    {"zone.high-mask", "Mask and eye protection: dust comes down on you."},
    {"zone.high-step", "Stand on a step made for it, machine off."},

    // Other duties of a wind-down.
    {"reset.title", "{machine}: leave as found"},
    {"reset.why", "Used for {minutes} in this session"},
    {"bin.why-full",
     "About {share} full after this session; empty it at {empty_at}, before it chokes"},
    {"bin.why-look", "{volume} went in and nobody has noted how full it was"},
    {"bin.lift-scoop",
     "It weighs about {mass} now: {people} people lift it, and some is scooped out first."},
    {"bin.lift", "It weighs about {mass} now[: {people} people lift it]."},
    {"filter.why",
     "{dust} of fine dust on it since it was cleaned; it asks for that at {clean_at}"},
    {"air.why",
     "{concentration} mg/m\u00b3 of fine dust hangs in the air; 99 % of it is gone after "
     "{minutes}"},
    {"common.why",
     "This session let go {dust} of fine dust that settles everywhere; most of the shop's lies "
     "here"},

    // Why the time given has no room for a duty.
    {"room.chain", "with what it needs first, {minutes} would be too long for the time there is"},
    {"room.too-long", "{minutes} would be too long for the time there is"},
    {"room.needs", "it needs \"{title}\" first, and that is passed on"},
    {"room.tool", "{minutes} with the {tool} would not fit; {why}"},
    {"room.people", "{minutes} for {people} people would not fit; {why}"},
    {"room.time", "{minutes} would not fit; {why}"},
    {"room.no-tool", "no {tool} works"},
    {"room.safety-first", "what must be made safe comes first"},
    {"room.least", "it weighs least per minute"},
    {"room.others", "the others weigh more together"},
    {"minutes.one", "1 minute"},
    {"minutes.many", "{count} minutes"},
    {"sharing.none", "No bins, filters or ledges tonight: nobody gets the dusty end."},
    {"sharing.one", "The dusty end fell to one lane tonight: take turns from time to time."},
    {"sharing.spread", "The dusty jobs are spread over {count} lanes. Swap as you like."},
    {"sharing.mixed",
     "The dusty jobs are spread over {count} lanes, and none has only those. Swap as you like."},

    // Cautions and notes of a wind-down.
    {"caution.layer",
     "{area} lie deeper in dust than the housekeeping limit of {limit}. Dust burns and can "
     "explode: "
     "no sparks, no flames, no blowing off. Clean there first and tell the coordinator."},
    {"caution.sparks-in",
     "Sparks from {machine} went into extraction that holds wood dust. Switch it off, look and "
     "smell for heat in its bins, and tell the coordinator before anyone leaves."},
    {"caution.sparks",
     "Keep metal sparks out of wood dust and wood extraction; they can glow for an hour."},
    {"caution.mask",
     "Mask on while cleaning, for the next {minutes} at least: the air holds {concentration} "
     "mg/m\u00b3 of wood dust, above the 1 mg/m\u00b3 that NIOSH recommends as a limit."},
    {"caution.mask-stock",
     "Mask on while cleaning: this stock's dust is best not breathed at all."},
    {"caution.vac-first",
     "Vac before broom, broom before air: no compressed air on dust, and never on people (29 CFR "
     "1910.242(b))."},
    {"caution.local-rules",
     "Local rules, machine manuals and trained people come before this list. Unsure? Leave it and "
     "pass it on."},
    {"note.slow-air",
     "{machine} had only {speed} in its branch ({transport} carries chips): with fewer gates open "
     "it would have caught more."},
    {"note.choked", "{machine}'s bin was so full that it drew at about {share}."},
    {"note.ran-out", "{machine} is noted as out of order: tell the coordinator how it ran."},
    {"note.half-full", "Taken as half full, since nobody has noted otherwise: {bins}."},
    {"note.waits", "1 older duty waits for the next list or the closing volunteer."},
    {"note.wait", "{count} older duties wait for the next list or the closing volunteer."},

    // The lock-up.
    {"lock-up.left-open", "{gate} (left open)"},
    {"lock-up.rags", "Oily rags were in use tonight."},
    {"lock-up.sparks", "Metal sparks flew tonight."},
    {"lock-up.not-possible", "Not possible tonight: tell the coordinator before you leave."},
    {"lock-up.fire",
     "Smoke, a glow, or a bin that feels warm: do not open it, do not move it. Everyone out, and "
     "call the fire service from outside. Never leave warm dust behind."},
    {"lock-up.alone",
     "Alone in the building: no ladders, no heavy bags, no machines. Pass those on."},
    {"lock-up.explode",
     "Wood dust burns, and stirred up it can explode: no sparks, no flames, no blowing off."},
    {"lock-up.local-rules",
     "Local rules, machine manuals and trained people come before this list. Unsure? Leave it and "
     "tell the coordinator."},
    {"lock-up.out", "{machine} is out of order: stop released, tag in place?"},

    // Bins and the round.
    {"day.today", "today"},
    {"day.yesterday", "yesterday"},
    {"day.tomorrow", "tomorrow"},
    {"day.monday", "Monday"},
    {"day.tuesday", "Tuesday"},
    {"day.wednesday", "Wednesday"},
    {"day.thursday", "Thursday"},
    {"day.friday", "Friday"},
    {"day.saturday", "Saturday"},
    {"day.sunday", "Sunday"},
    {"day.on", "on {day}"},
    {"bin.nobody", "nobody has looked yet"},
    {"bin.nobody-into", "nobody has looked into it yet"},
    {"bin.perhaps-emptied",
     "{evidence}; more should have fallen since than it holds, so somebody may have emptied it"},
    {"bin.room-emptied", "seen with room, then emptied {day}"},
    {"bin.half-emptied", "seen half full, then emptied {day}"},
    {"bin.full-emptied", "seen full, then emptied {day}"},
    {"bin.weak-emptied", "weak pull, then emptied {day}"},
    {"bin.seen-room", "seen with room {day}"},
    {"bin.seen-half", "seen half full {day}"},
    {"bin.seen-full", "seen full {day}"},
    {"bin.seen-weak", "weak pull {day}"},
    {"bin.emptied", "emptied {day}"},
    {"bin.fast",
     "it fills about {factor} times as fast as its machines suggest; the forecast allows for that"},
    {"bin.slow",
     "it fills at about {share} of the pace that its machines suggest; the forecast allows for "
     "that"},
    {"chance.least", "less than 1 in 20"},
    {"chance.most", "more than 19 in 20"},
    {"chance.tenths", "{tenths} in 10"},
    {"forecast.look", "cannot be said until somebody looks"},
    {"forecast.not-due", "not due within the next {days} days"},
    {"forecast.due-now-not-full", "due now; not full within the next {days} days"},
    {"forecast.due-not-full", "due by {day}; not full within the next {days} days"},
    {"forecast.full-now", "full now ({chance})"},
    {"forecast.perhaps-now", "probably full now ({chance}[; 9 in 10 by {nine}])"},
    {"forecast.due-now-full", "due now, full by {full} (9 in 10)"},
    {"forecast.due-full", "due by {day}, full by {full} (9 in 10)"},
    {"forecast.due-now-perhaps", "due now, probably full by {full}[ (9 in 10 by {nine})]"},
    {"forecast.due-perhaps", "due by {day}, probably full by {full}[ (9 in 10 by {nine})]"},
    {"round.full", "full with a chance of {chance}"},
    {"round.draws-badly", "about {share} full; it draws badly from {empty_at} on"},
    {"round.before-next", "probably full by {day}, before the next round"},
    {"round.too-heavy",
     "Too heavy even so: scoop some out first, or bring a cart. Nobody lifts it alone."},
    {"round.people", "{people} people lift it, at about {mass}."},
    {"round.heat", "Metal or sparks may have gone in: look for heat before you move it."},
    {"round.mask",
     "Eye protection and a fitted mask before you open anything, and until the dust has settled."},
    {"round.lock-out",
     "Switch the machine and its extraction off, let them stop, and unplug or lock them out before "
     "you reach in."},
    {"round.feel",
     "Feel each bin from outside first. Warm, or a smell of smoke: leave it closed, warn everyone "
     "and follow the shop's fire rules."},
    {"round.explode",
     "Wood dust burns and can explode: no sparks, no flames, no shaking out indoors. Tie bags off "
     "before you carry them."},
    {"round.local-codes",
     "Where the dust may go is for the local codes to say; machine manuals and trained people come "
     "before this list."},

    // What else the coordinator is told.
    {"supply.told-low-left", "{unit} left: {left}, told to be low {day}"},
    {"supply.order-now", "{unit} left: {left}; order now (the sheet says at {low_at})"},
    {"supply.left", "{unit} left: {left}; order at {low_at}"},
    {"supply.told-low", "told to be low {day}; nobody said how many {unit} are left"},
    {"supply.uncounted", "nobody has counted the {unit} yet"},
    {"layer.over",
     "{zone}: at the housekeeping limit of {limit} or over it. Dust burns and can explode: vac it "
     "before anyone cuts again, no blowing off, no sparks"},
    {"layer.still",
     "{zone}: {share} of the housekeeping limit of {limit}; it does not grow as the shop cleans "
     "now"},
    {"layer.grows",
     "{zone}: {share} of the housekeeping limit of {limit}; reaches it about {day} as the shop "
     "cleans now"},
    {"held.longer",
     "{kind}, {week}: {promised} promised, {taken} taken, over {count} duties: {share} longer, "
     "which "
     "the next lists allow for"},
    {"held.shorter",
     "{kind}, {week}: {promised} promised, {taken} taken, over {count} duties: {share} shorter, "
     "which the next lists allow for"},
    {"held.held",
     "{kind}, {week}: {promised} promised, {taken} taken, over {count} duties: the estimates held"},
    {"week.this", "this week"},
    {"week.last", "last week"},
    {"week.of", "week of {day}"},
    {"kind.zone", "Cleaning zones"},
    {"kind.common", "Shared fine dust"},
    {"kind.reset", "Leaving machines as found"},
    {"kind.bin", "Bins"},
    {"kind.filter", "Filters"},
    {"kind.air", "Air"},
    {"kind.close", "Closing"},
    {"behind.zone",
     "{zone}: passed on {passed_on} of {listed} times in the last {weeks} weeks. Is it hard to "
     "reach, is its tool far off, or does the list ask for too much there?"},
    {"try.stop",
     "Is an emergency stop still latched? Turn or pull it out: on the machine, at the door, at the "
     "collector."},
    {"try.permit", "Does it want a card, a key or a permit first?"},
    {"try.guards", "Are guards and covers quite closed? Many machines do not start otherwise."},
    {"try.gate",
     "Does it wait for its extraction? Look at {collector}: on, its stop released, this gate "
     "open."},
    {"try.extraction",
     "Does it wait for its extraction? Look at {collector}: on, its stop released."},
    {"try.breaker", "Has its breaker tripped? Reset it once; if it trips again, leave it off."},
    {"try.control", "Has it a control box? Off, a minute's wait, on again."},
    {"try.never",
     "Never by-pass a guard or an interlock, and open nothing that is live. What these do not mend "
     "is for trained people: tag it out, unplugged or locked out."},

    // Words to choose from.
    {"reason.no-time", "No time"},
    {"reason.no-tool", "The tool is missing or broken"},
    {"reason.not-safe", "It is not safe now"},
    {"reason.not-able", "I cannot do it"},
    {"reason.already-clean", "It is clean already"},
    {"reason.done-by-others", "Somebody else has done it"},
    {"reason.does-not-apply", "It does not apply today"},
    {"look.room", "Plenty of room"},
    {"look.half", "About half full"},
    {"look.full", "Full"},
    {"look.weak-pull", "It pulls weakly"},
    {"look.dirtier", "Dirtier than it says"},
    {"look.cleaner", "Cleaner than it says"},

    // Saving and syncing.
    {"saving.nothing", "Nothing is recorded yet."},
    {"saving.no-folder", "Nothing is kept: the door was opened without a folder."},
    {"saving.one", "1 entry is saved on this device, {own} made here."},
    {"saving.many", "{count} entries are saved on this device, {own} made here."},
    {"saving.doubtful", "{count} claim a time that cannot be."},
    {"sync.not-joined",
     "not joined yet: {here} saved here, {under_way} on its way, {at_hub} at the hub"},
    {"sync.offline",
     "no connection: {here} saved here, {under_way} on its way, {at_hub} at the hub"
     "[, {fetch} to fetch][, {aside} set aside]"},
    {"sync.connecting",
     "connecting: {here} saved here, {under_way} on its way, {at_hub} at the hub"
     "[, {fetch} to fetch][, {aside} set aside]"},
    {"sync.connected",
     "connected: {here} saved here, {under_way} on its way, {at_hub} at the hub"
     "[, {fetch} to fetch][, {aside} set aside]"},
    {"sync.up-to-date",
     "up to date: {here} saved here, {under_way} on its way, {at_hub} at the hub"
     "[, {fetch} to fetch][, {aside} set aside]"},
    {"sync.refused",
     "turned away: {here} saved here, {under_way} on its way, {at_hub} at the hub"
     "[, {fetch} to fetch][, {aside} set aside]"},
    {"sync.wrong-key",
     "whoever answers there has another key than the hub that this device joined: ask the "
     "coordinator before anything else"},
    {"join.leads", "The hub at {host}, port {port}."},
    {"join.leaves", "This device leaves \"{shop}\" by it."},

    // Mistakes that a person at a phone can make; those in a sheet are English only.
    {"mistake.no-sheet", "there is no shop sheet yet; load one first"},
    {"mistake.no-folder",
     "opened without a folder, so nothing is kept; open the door with a data folder"},
    {"mistake.newer", "asks for nothing, or for something that only a newer version knows"},
    {"mistake.people", "give 1 to 50 people"},
    {"mistake.time", "not a time of day; give HH:MM, such as 21:30"},
    {"mistake.within", "give 1 to 1440 minutes"},
    {"mistake.code",
     "this is not a whole joining code ({part}); scan or type it again, or ask the coordinator for "
     "a "
     "new one"},
    {"mistake.not-joined", "this device has not joined a hub: ask the coordinator for a code"},
    {"mistake.no-list", "no session has ended on this device yet"},
    {"mistake.no-such-list", "this session is not on this device"},
    {"mistake.machine-kind",
     "{machine} cuts {cuts}; {stock} is {is}; name another stock or machine"},
    {"mistake.not-out", "{machine} is not out of order; nothing to take back"},
    {"mistake.not-waiting", "\"{duty}\" is not a duty that waits here; one of {waiting}"},
};

}  // namespace

std::span<const CatalogueEntry> core_catalogue() { return kCatalogue; }

}  // namespace chipfall

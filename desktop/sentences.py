# SPDX-License-Identifier: MIT
"""The sentence of every finding: what it is, what it means, what to do.

Each is one whole template with named facts, so that another language may put them in its own order; `{fact:mass}` says how a
fact is shown, by one of `desktop/wording.py`. A test fails on a code without a sentence and on one that leaves its figures out.
"""

from __future__ import annotations

from collections.abc import Mapping

from desktop.language import tr

SENTENCES: Mapping[str, str] = {
    # values that cannot be
    "time-naive": tr("The time {text} says nothing about its time zone. Write it with its offset, as 14:05+02:00."),
    "time-unreadable": tr("“{text}” cannot be read as a time. Write it as 14:05."),
    "day-unreadable": tr("“{text}” cannot be read as a day. Write it as 2025-03-11."),
    "day-unclear": tr("“{text}” cannot be read as a day. Write it as {like:since} or as {like}."),
    "day-beyond": tr("There is no {text}: {month:month} has {days:parts} days. Look at it again."),
    "number-unreadable": tr("“{text}” is not a number. Write figures; comma and point both mark the decimals."),
    "number-grouped": tr("“{text}” has marks for thousands. Leave them out: comma and point both stand before decimals."),
    "data-unreadable": tr(
        "“{text}” is no datum as this book exports them: flash_point_c=43, several kept apart by |. Write it so, or leave the "
        "whole column out: say “left out” beside its name."
    ),
    "number-empty": tr("A number is missing here."),
    "name-empty": tr("A name is missing. It is what you will look for later."),
    "code-empty": tr("A code is missing. It is what stands on the label."),
    "code-taken": tr("The code {code} is taken. Choose one that is free."),
    "cas-shape": tr("“{text}” has not the form of a CAS number, as 78-70-6 has. Look it up again, or leave it empty."),
    "cas-check-digit": tr("{text} cannot be a CAS number: the last digit would be {digit}. Look for a slip in the figures."),
    "parts-negative": tr("{parts:parts} parts cannot be weighed. Parts are 0 or more."),
    "parts-not-finite": tr("These parts are no figure that can be weighed. Write a plain number."),
    "strength-range": tr("A strength of {percent:parts}\u2009% cannot be. It is more than 0 and at most 100\u2009%."),
    "room-range": tr(
        "Nobody smells in a room of {value:parts}\u2009°C. Write a figure between {least:parts} and {most:parts}\u2009°C."
    ),
    "humidity-range": tr("A humidity of {percent:parts}\u2009% cannot be. Write a figure from 0 to 100\u2009%."),
    "carrier-missing": tr("A strength under 100\u2009% needs a carrier. Say what it is diluted in."),
    "carrier-unclear": tr(
        "“{text}” is not one material of this shelf. Write more of the carrier's name, or add it as a material."
    ),
    "carrier-unneeded": tr("A neat material has no carrier. Write a strength under 100\u2009%, or leave the carrier out."),
    "carrier-itself": tr("A material cannot be diluted in itself. Choose another carrier."),
    "line-one-of": tr("This belongs to exactly one thing, such as one material or one accord. Choose one."),
    "total-not-positive": tr("A formula of {total:parts} parts cannot be. The wanted total is more than 0."),
    "fill-up-twice": tr("Only one line can fill up to the total. Take the mark off the other one first."),
    "fill-up-excess": tr(
        "The other lines come to {others:parts} parts, {excess:parts} more than the total of {total:parts}: nothing is left for "
        "the fill-up line. Take some off, or raise the total."
    ),
    "accord-loop": tr("An accord cannot hold itself, and here {names:chain}. Take one of them out first."),
    "accord-strength": tr("An accord is used as it is. To thin it, add a line of its carrier."),
    "share-sum": tr("These shares come to {total:percent}. What is in a bottle comes to 100\u2009%."),
    "mass-not-positive": tr("A mass of {mass_g:parts}\u2009g cannot be weighed. Write more than 0."),
    "intensity-scale": tr("Intensity {value:parts} is off the scale. It goes from 0 to 6 in half steps."),
    "liking-scale": tr("A liking of {value:signed} is off the scale. It goes from −4 to +4 in whole steps."),
    "distance-negative": tr("A distance of {value:parts}\u2009cm cannot be. It is 0 or more."),
    "word-weight": tr("The weight {value:parts} of “{word}” is off the scale. It is 1, 2 or 3."),
    "kind-unknown": tr("“{kind}” is not known here. It can be {known:or}."),
    "reference-missing": tr("What this needs is not in the book: {kind:kind} {key}. Choose another one."),
    "odorant-out-of-reach": tr(
        "{wanted:percent} of odorants is out of reach: the undiluted concentrate has {most:percent}. Use stronger dilutions, or "
        "wish for less."
    ),
    "frozen": tr("{code} has been weighed and stays as it was. A change to it makes a new version."),
    "record": tr("{name} is a record and is never overwritten. Correct it; the earlier wording stays to be seen."),
    "not-correctable": tr("{name} is not a record. Change it as it stands."),
    "undo-held": tr("“{what}” cannot be taken back: later records in the book refer to it. Correct it by hand instead."),
    "readability-not-positive": tr("A balance that reads to {step:parts}\u2009g cannot be. Write its smallest step, as 0.001."),
    "read-before-dip": tr("Strip {strip} was dipped on {dipped_at:since}, after the time of this reading. Check the time."),
    "from-and-to": tr("Mass leaves one bottle or reaches another, and a pour needs both. Name the bottle that is missing."),
    "reading-time-range": tr("A reading time is more than 0 and at most {longest_days:parts} days after the dip."),
    "reason-missing": tr("{code} has no reason yet. Say in a few words why it was made; then it can be weighed."),
    "dilution-form": tr(
        "A dilution is reckoned from one mass: the total, the material there is, or the carrier poured first. Give one of them."
    ),
    "strength-out-of-reach": tr(
        "{wanted:percent} is out of reach: {most:percent} is the most this can give. Use a stronger one, or wish for less."
    ),
    "exchange-too-weak": tr(
        "At {wanted:percent} there is not enough free carrier to keep the composition. The weakest strength that works is "
        "{weakest:percent}."
    ),
    "exchange-carrier": tr(
        "This stock brings {needed:parts} parts of {carrier}, {missing:parts} more than stand free here: the composition would "
        "change by that much. The weakest strength in {carrier} that works is {weakest:percent}."
    ),
    "exchange-no-carrier": tr(
        "This stock brings {needed:parts} parts of {carrier}, and none stands free here: the composition would change by that "
        "much. Take it in the carrier it has now, or neat."
    ),
    "nothing-to-rescale": tr("No line here has parts yet, so there is nothing to rescale."),
    "held-too-much": tr(
        "The held lines are {held:parts} parts and the total is {total:parts}: nothing is left to rescale. Hold fewer lines, or "
        "wish for a larger total."
    ),
    "contents-unknown": tr("What {code} holds is not known, so nothing can be reckoned from it. State its contents first."),
    "volume-not-positive": tr("A vessel of {volume_ml:parts}\u2009ml cannot be. Write what it holds when full, as 30."),
    "correction-unnamed": tr("A correction needs its reason. Say in a few words why the book was wrong."),
    "habit-range": tr("{value:parts} cannot be kept. Write a figure from 0 to {most:parts}."),
    "habit-share": tr("{value:percent} cannot be kept. Write a share up to 100\u2009%; a tolerance must be more than 0."),
    "price-negative": tr("A price of {price:parts} cannot be. Write 0 or more, or leave it empty."),
    "settled": tr("What {code} lost was settled with this figure. Weigh it again instead of correcting it."),
    "top-up-late": tr("{code} was drawn from or weighed after that hour. Book the top-up for now."),
    "gone": tr("{code} is gone already. Take “gone since” off first, if it came back."),
    "beyond-left": tr(
        "{code} holds {left_g:mass} by the book, and {wanted_g:mass} would leave it. If there was more, book that first as a "
        "correction with its reason, or weigh the bottle again."
    ),
    "loss-beyond-carrier": tr(
        "{lost_g:mass} are missing, but only {carrier_g:mass} of it can have been carrier. Look for a draw that was not booked, "
        "and weigh again."
    ),
    "below-readability": tr(
        "{mass_g:parts}\u2009g is less than the balance shows: it reads to {d_g:mass}. Take more, or another balance."
    ),
    "too-little": tr("{code} holds {left_g:mass}, and {needs_g:mass} is needed. At most {most_g:mass} can be made from it."),
    "left-unknown": tr("How much {code} holds, or lost, is not known. Weigh it first."),
    "source-itself": tr("{code} cannot be poured into itself. Choose another bottle."),
    # what a balance shows
    "unit-not-grams": tr(
        "The balance shows {figure} {unit}, and the book is kept in grams. Set the balance to g and weigh again, or write the "
        "mass in g."
    ),
    "balance-below-zero": tr(
        "The balance shows {mass_g:parts}\u2009g, less than nothing: something was taken off it since it was tared. Tare it and "
        "weigh again."
    ),
    "after-not-less": tr(
        "Before ({before_g:parts}\u2009g) is not more than after ({after_g:parts}\u2009g). Look at both figures again; the full "
        "one comes first."
    ),
    "density-unknown": tr(
        "What a drop of {code} weighs is not known without a density. Write it on the form of {name} on the Bench, or weigh "
        "1\u2009ml once; or weigh this line."
    ),
    # a bottle: what it can take, what speaks against it, how its contents are brought into solution
    "vessel-too-small": tr(
        "It fills {fills_ml:about}\u2009ml and the vessel holds {volume_ml:parts}\u2009ml. Make at most {most_g:mass}, or take a "
        "larger one."
    ),
    "head-space-small": tr(
        "It fills {fills_ml:about}\u2009ml of {volume_ml:parts}\u2009ml: little room is left to shake it. {most_g:mass} would "
        "leave enough."
    ),
    "container-plastic": tr("Plastic: oils and solvents soften it and take from it. Glass keeps them as they are."),
    "liner-none": tr(
        "The cap has no liner that keeps: vapour passes, and what is in the cap gets into the bottle. A PTFE-faced or cone liner "
        "holds."
    ),
    "dropper-rubber": tr(
        "A rubber dropper stands over the liquid: vapour swells it and carries its smell down. Keep the bottle under a plain "
        "cap, and change the dropper every year."
    ),
    "dissolve-solid": tr(
        "{name} is solid: grind it fine, pour the carrier on, and let it dissolve at room temperature, shaken now and then. Warm "
        "gently only where its safety data sheet allows."
    ),
    "warm-thick": tr("{name} is thick: warm its closed bottle in hand-warm water until it pours, away from any flame."),
    "tare-implausible": tr("Gross less net gives a tare of {tare_g:mass}. Look at both figures again."),
    "order-boat": tr("Weigh it in a boat: it is a powder, and first, while the vessel is dry."),
    "order-thick": tr("Thick: first, so that the rest washes it down."),
    "order-accord": tr("An accord: early, before the bulk it is a part of."),
    "order-trace": tr("A trace, as its dilution: before the bulk, while the vessel is light."),
    "order-bulk": tr("The bulk: the least volatile first."),
    "order-volatile": tr("Volatile: last, so that it does not leave while the others are weighed."),
    "too-few-readings": tr("{count:parts} readings say nothing of a spread. Take at least {least:parts}, better ten."),
    "over-capacity": tr(
        "{mass_g:mass} with its vessel is more than this balance carries ({max_g:mass}). Take another balance, a lighter vessel, "
        "or less."
    ),
    "not-ready": tr(
        "{code} is not ready before {on:since}: a solid in it is still dissolving, so that less may come out of it than its "
        "label says. Wait until then, or weigh from another bottle."
    ),
    # what to take care of while a formula is weighed
    "caution-always": tr("Gloves and goggles on, air moving."),
    "caution-flame": tr("No flame, no spark: {names:and}."),
    "caution-flash-unknown": tr("Flash point not known, so no flame either: {names:and}."),
    "caution-air": tr("Much of it goes into the air: {names:and}."),
    "caution-powder": tr("Powder, do not breathe it: {names:and}."),
    "caution-skin": tr("Said to harm skin or eyes: {names:and}."),
    "caution-decides": tr("These are reminders: the supplier's safety data sheet and local law decide."),
    # blind tests: triangle, duo-trio, paired, ranking
    "answers-range": tr("A test of {n:parts} answers cannot be. Write 1 to {most:parts}."),
    "right-range": tr("{right:parts} of {n:parts} answers cannot be. Write 0 to {n:parts}."),
    "alpha-range": tr(
        "A risk of {alpha:percent} of calling chance a difference cannot be. Write more than 0 and less than 50\u2009%; 5\u2009% "
        "is usual."
    ),
    "power-range": tr(
        "A chance of {power:percent} to notice the difference cannot be. Write more than 0 and less than 100\u2009%; 80\u2009% "
        "is usual."
    ),
    "share-range": tr("A share of {share:percent} right answers cannot be. It is 0 to 100\u2009%."),
    "dprime-range": tr("A distance d′ of {dprime:parts} cannot be. It is 0 or more."),
    "effect-form": tr(
        "How large a difference should be noticed is said in one way: by the share of answers that can tell, or by d′. Give one "
        "of them."
    ),
    "effect-range": tr(
        "A difference of {effect:parts} cannot be looked for. The share that can tell is more than 0 and at most 100\u2009%; d′ "
        "is more than 0."
    ),
    "effect-too-small": tr(
        "More than {most:parts} answers would be needed to notice so small a difference. Look for a larger one, or ask for less "
        "certainty."
    ),
    "ranks-few": tr("A ranking needs at least one answer of at least two samples. Add what is missing."),
    "ranks-missing": tr("In answer {row:parts}, {count:parts} of {samples:parts} ranks can be read. Give each sample its rank."),
    "ranks-tied": tr(
        "Answer {row:parts} puts all samples on one rank, so it says nothing about their order. Leave it out, or ask again."
    ),
    # how samples are served and strips are dipped one after another
    "serving-range": tr(
        "Orders are balanced for {fewest:parts} to {most:parts} samples, not for {samples:parts}. Serve fewer at once, or "
        "compare two."
    ),
    "blind-codes-short": tr(
        "{count:parts} new blind codes are needed and {left:parts} are left. Let older codes be used again, or take fewer strips."
    ),
    "stand-range": tr("A stand of {count:parts} strips cannot be read in time. Dip 1 to {most:parts}."),
    "reading-minutes-range": tr(
        "{minutes:parts} minutes for one reading cannot be planned. Write more than 0 and at most {most:parts}."
    ),
    "reading-times-close": tr(
        "Readings at {earlier_min:parts} and {later_min:parts} min lie nearer than the {minutes:parts} min one takes. Leave one "
        "of them out, or allow less time."
    ),
    "stagger-none": tr(
        "No gap up to {longest:parts} minutes keeps the readings of {count:parts} strips {minutes:parts} min apart. Dip fewer "
        "strips, read them less often, or allow less time for one."
    ),
    # blind sittings and tests in the book
    "sealed": tr("Sitting {code} is sealed or was revealed: nothing more can hang in it. Begin another sitting."),
    "not-sealed": tr("{code} is not sealed, so there is nothing to reveal."),
    "sitting-empty": tr("No paper hangs in sitting {code} yet. Dip the strips first, then seal it."),
    "sitting-read": tr(
        "Sitting {code} cannot be sealed any more: readings of {strips:and} stand in it, which are not blind and are older than "
        "the clock that a seal begins. Begin a new sitting, dip fresh papers in it and seal it before the first reading."
    ),
    "papers-missing": tr(
        "Every paper is named once, and these are not: {papers:and}. Turn each over and write what stands on its hidden end."
    ),
    "code-unknown": tr("{code} was not served. Choose one of {served:and}."),
    "same-sample": tr("A bottle cannot be told from itself. Choose another one to put beside it."),
    "answer-missing": tr("This answer says nothing yet. Write the code that was chosen."),
    "limit-range": tr("A limit of {percent:parts}\u2009% cannot be. It is more than 0 and at most 100\u2009% of the product."),
    "constituent-range": tr("The shares of {name} do not fit: each is 0 to 100\u2009%, least first, then typical, then most."),
    "compared-range": tr("{fewest} to {most} versions stand side by side, not {number}. Add one, or take some out."),
    "steps-range": tr("{number} steps cannot be made. Write {fewest} to {most}."),
    "dose-range": tr(
        "No series leads from {first:parts} to {last:parts}. Write two different doses; equal ratios need both above 0."
    ),
    "same-line": tr("Both ends of the ladder are the same. Choose another liquid for one of them."),
    "word-itself": tr("“{name}” cannot stand for itself. Choose another word that means the same."),
    "answer-late": tr("{code} was revealed: an answer now would not be blind. Plan another test."),
    # notices that forbid nothing
    "limit-over": tr(
        "{name}: {reached} of the product is over the {allowed:percent} you typed. Less of it, or a weaker product, keeps to it."
    ),
    "limit-close": tr("{name}: {reached} of the product is close to the {allowed:percent} you typed."),
    "accord-newer": tr("{newer} is a newer version of the accord {accord}. It is taken in on Compare, where used."),
    "budget-over": tr("What shares the budget “{name}” comes to {ratio:percent} of it. Use less of one of them."),
    "price-unknown": tr("No price is known for {names:and}; the cost counts only the others."),
    "no-lines": tr("This formula has no lines yet. Type a material into the empty line."),
    "all-carrier": tr("Everything in this formula is carrier; it has no odorant yet."),
    "over-price": tr("A gram costs {price}, more than the {ceiling:price} this project wishes for."),
    "grams-lost": tr(
        "At this amount the balance of {d_g:mass} shows nothing for {names:and}. Weigh more, or use a weaker dilution."
    ),
    "retired-used": tr("Retired, but still used here: {names:and}."),
    # whether a version can be made again today
    "again-never-weighed": tr("{code} was never weighed, so there is nothing to compare with."),
    "again-none": tr("No bottle holds {stock}, nor anything it could be made from."),
    "again-relabelled": tr("No bottle holds {stock} any more: {code}, which it was weighed from, is labelled {now:percent} now."),
    "again-prepare": tr("{stock} is to be made first, from {code}."),
    "again-dissolve": tr("{stock} is to be made first: {code} is a solid and takes its time to dissolve."),
    "again-other-lot": tr("{name} is {is_newer:lot}: {code} in place of {was}."),
    "again-topped-up": tr("{code} was topped up with another lot of {name} since."),
    "again-other-bottle": tr("{name} comes from another bottle of the same lot: {code} in place of {was}."),
    "again-unsmelled": tr("{code} was never smelled against {was}."),
    "again-smelled-apart": tr(
        "{code} was smelled against {was} on {on:since}: {difference:signed} at {due_s:due}, beyond your own noise."
    ),
    "again-smelled-alike": tr("{code} was smelled against {was} on {on:since}: no difference beyond your own noise."),
    "again-smelled-open": tr("{code} was smelled beside {was} on {on:since}, but not so that a difference can be told."),
    "again-strong": tr("{code} is {off:rough} strong: weigh {weigh_g:mass} for {for_g:mass}."),
    "again-weak": tr("{code} is {off:rough} weak: weigh {weigh_g:mass} for {for_g:mass}."),
    "same-mass-strong": tr("{code} is {off:rough} strong: the same mass brings more of it than is written."),
    "same-mass-weak": tr("{code} is {off:rough} weak: the same mass brings less of it than is written."),
    "again-not-ready": tr("{code} is still dissolving, until {on:since}."),
    "again-retest-due": tr("{code} was to be smelled again on {on:since}."),
    "again-retest-soon": tr("{code} is to be smelled again on {on:since}."),
    "again-made-up": tr("{name} was weighed line by line then; today it comes from {code}."),
    "again-opened": tr("{name} is opened into its lines: {code} holds too little."),
    "again-not-weighed": tr("{name} was not weighed in {trial}."),
    # rows of a pasted sheet
    "row-too-wide": tr("This row has more fields than the others: “{text}” is left over. Mend it and paste it again."),
    "row-total": tr("This row states a total, so it is not taken for a line."),
    "unit-unclear": tr("This row is in {unit}, the others are in {usual}. Give its quantity in {usual} and paste it again."),
    # the state of a file
    "file-damaged": tr("A part of the file cannot be read ({detail}). Look at the newest backup, and keep this file."),
    "key-broken": tr("In {count} places the book points to nothing ({tables:and}). Look at a backup from before."),
    "file-structure": tr("The inside of the file was changed by another program. Look at a backup from before."),
}

//! What people believe at a bench, and what speaks against it.

/// What speaks against a wrong reason; every wrong reason of every question is in the table.
pub(super) fn against(belief: &str) -> Option<&'static str> {
    let found = BELIEFS.iter().find(|(of, _)| *of == belief);
    found.map(|(_, against)| *against)
}

#[rustfmt::skip]
const BELIEFS: &[(&str, &str)] = &[
    // Reading a staircase.
    ("the joint that gets hottest is the weakest", "a joint that melts at 280 °C may see 230 °C; one that melts at 138 °C may not see 150 °C"),
    ("the alloy that melts lowest is the weakest", "it may lie far from the heat and stay cool: what it sees counts as much as where it melts"),
    ("lowest melting first: it needs the least heat", "then every later heat is hotter than what already stands can bear"),
    ("any order will do, as long as each joint is cold before the next", "a joint that has cooled down melts again as soon as it gets as hot as before"),
    ("an alloy that is called eutectic melts at one number, the lower one", "lists call many alloys eutectic that are pasty over several kelvins; the second list shows it"),
    ("lists differ, so the mean of both is the best guess", "the two numbers are not two guesses at one thing: one is where it begins to melt, the other where it is all liquid"),
    // Two alloys.
    ("a gap between the two alloys is enough, however small", "nobody solders at the liquidus: the peak lies above it, and uses the gap up"),
    ("the iron or air setting is what the neighbour sees", "a tip set to 350 °C brings a joint to far less: much is lost on the way, and more on the way to the neighbour"),
    ("anything below the first melt is solid and therefore strong", "solder creeps long before it melts, so a joint under load gives way while it is still solid"),
    ("it only has to stay below the first melt", "it would be solid, and creep: a joint under load gives way in time"),
    ("lead-free alloys always stand more heat than leaded ones", "Bi58Sn42 and In52Sn48 hold no lead, and melt far below Sn63Pb37"),
    ("the two rules are averaged", "each of them is a limit of its own: the mean breaks the stricter one"),
    // Neighbours.
    ("4 mm away nothing but the preheat arrives", "a board conducts: some of the rise arrives, and the coupling says how much"),
    ("the chip must stay below the first melt of the jumper", "the jumper sees only a share of the rise, so the chip may get hotter than that"),
    ("the coupling is a share of the peak itself", "the preheat reaches everything in full; only what the tool adds is shared out"),
    ("the margin is kept at the chip, not at the jumper", "the jumper is what must not melt, so the kelvins are counted there"),
    ("a preheater is harmless, it never melts anything", "at 120 °C it melts indium solder and anything where bismuth met lead, all over the board"),
    ("only joints beside the chip are heated", "a preheater heats the whole board, the far corner too"),
    ("its weight alone decides", "as long as its solder is solid no weight of this size falls; once liquid, wetted area and edge carry it"),
    ("surface tension holds anything that is soldered", "it holds a few milligrams for each millimetre of edge, no more"),
    // Mixing.
    ("a mixture melts between its parents", "that holds for water of two temperatures; metals that disturb each other's crystals melt lower than both"),
    ("new copper lowers the melting point of bismuth solder", "only a trace of copper dissolves in it, and hardly changes where it melts"),
    ("the joint is what the ball was bought as", "the ball dissolves what lies on the pad: the label ends when it melts"),
    ("wherever a leaded board was repaired, 95 °C must be reckoned with", "only where lead really got into the joint: a pad that never saw it brings none"),
    ("wick takes all of it: there is no lead left", "wick leaves a film of micrometres, and a trace of lead is enough"),
    ("what counts is how thick the film is, not what the ball weighs", "the share is lead over all metal: the same film weighs more in a small ball"),
    ("bismuth spreads over the board and reaches every joint", "liquid solder stays on the metal that it wets; mask and bare laminate stop it"),
    ("every joint near a chip is lost when the chip is set", "near joints see a share of the rise, and that can be reckoned"),
    ("flux keeps the two apart", "flux takes the oxide off, which is what lets them run together"),
    ("the jumper melts at 183 °C and never sees that", "it need not melt: liquid bismuth solder dissolves it from outside, as water does sugar"),
    ("only pairs with very different melting points are dangerous", "Bi58Sn42 and Sn63Pb37 lie 45 K apart and make 95 °C; it is the metals that decide"),
    ("flux cleans metal off the pad", "flux dissolves oxide, not metal"),
    ("wick takes everything that is liquid: one round is enough", "it leaves a film of what the puddle was: each round only thins the old metal out"),
    // Order.
    ("the melting points alone decide, the couplings do not matter", "a low-melting joint far away may outlast a high-melting one right beside the heat"),
    ("the order does not matter as long as every joint cools down in between", "what stands is heated by everything that comes after it, so the first must bear most"),
    ("a longer tip reaches below any frame", "a tip must touch the joint and be seen there: below a frame neither can be had"),
    ("both count: they will both be there in the end", "steps are done one after the other: until the lid is on, what lies under it can be reached"),
    ("the chip first: it is the most important", "what must be reached under or beside it would then be closed, or heated with the chip in place"),
    ("the order is a matter of taste", "mask does not stick to a joint that is soldered later, and enamel does not come off under mask"),
    ("a check counts until the power has been on", "any heat after the check can pull a bridge; the check is then worth nothing"),
    ("one check at the start shows that the board is sound", "it shows what the board was; shorts are made by the work"),
    // Removal.
    ("heats count only above the melting point of its balls", "the body ages by its own temperature, whatever its balls do"),
    ("only setting it down counts", "taking off, wicking and new balls heat the chip just as much"),
    ("removal needs less heat than placing: the first melt is enough", "one ball that still holds tears its pad off: all of them must be liquid"),
    ("the hotter the better: what comes off is scrap anyway", "the chip holds the data, and its neighbours stay on the board"),
    ("one reading above plan makes every joint of the board suspect", "what a joint saw can be reckoned from the reading: most have kelvins to spare"),
    ("the plan said that they hold, so they hold", "the plan was reckoned with another peak: the reading is what happened"),
    // Clashes.
    ("all wishes of a job that cannot be done clash with each other", "most of them are not in the way: leave one out and look whether the rest can be kept"),
    ("first melt over peak", "both are counted from preheat on, since preheat arrives in full; and the margin must be left"),
    ("half of what it is now: a shield halves the heat", "how much must go depends on the numbers of this job, not on what shields usually do"),
    ("the margin is only caution: give it up first", "a few kelvins rarely open a job, and they are what covers the errors of all other numbers"),
    ("the preheater is the culprit whenever a neighbour melts", "with a small coupling the peak hardly matters and preheat does; with a large one it is the other way about"),
    ("the wish that was made last is the one to blame", "a clash has no last wish: any one of the set can be given up"),
    // Pictures.
    ("the hottest heat of a job is always its weakest step", "a hot heat far below the lines leaves more than a cool one just below a line"),
    ("the last heat is the weakest: the joints are tired by then", "a joint that stayed solid melts where it did before: what counts is its line and its dot"),
    ("those whose dots came nearest to their lines before", "how near they came before is past: on a warm board each sees the same, and its own line decides"),
    ("none: a joint that stood three heats stands a fourth", "it stood what it saw; a warmer board is another heat"),
    // Safety.
    ("foil keeps enough heat off any cell if the heat is short", "a swollen cell may go off without any heat, and foil keeps little off"),
    ("gas is the danger: a cell without it is harmless", "a pricked cell burns: air and moisture get at the metal in it"),
    ("unplugging takes the charge out of everything", "a capacitor holds its charge for minutes or hours after the plug is out"),
    ("a short is the quickest way, so it is the safest", "a spark welds, sprays metal and breaks the part"),
    ("lead only harms as vapour, and there is none at 350 °C", "there is hardly any vapour; it goes from hand to mouth"),
    ("a morning's work is too little lead to matter", "the body keeps lead for years: it adds up"),
    ("full heat burns away whatever a board leaves behind", "metal does not burn away, and flux residues come back as fume over food"),
    ("a chip in foil gives nothing off", "foil is not tight, and the tray has touched it all the same"),
    ("alcohol burns only when a flame touches the liquid", "its vapour burns from 12 °C up, and a hot tip or nozzle may light it"),
    ("hot air blows any vapour away before it can burn", "it heats and mixes the vapour, which is what a fire needs"),
    ("what hardly glows has no strength to harm anything", "ultraviolet is hardly seen: eye and skin take it all the same"),
    ("only staring into a lamp harms, skin bears it all day", "reflected light harms the eye too, and skin burns within minutes"),
    ("a quick finger is faster than a short", "a trace is gone in milliseconds"),
    ("a supply limits itself to what the board needs", "a supply gives what the short takes, up to its own limit"),
    ("ceramic is inert, and so its dust harms nobody", "beryllium oxide is a white ceramic like any other, and its dust is the danger"),
    ("a fume extractor holds back any dust there is", "it is made for fume at a joint; this dust must not be made at all"),
    ("a metal gives fume only when it boils", "metals give vapour below boiling, and of this one micrograms count"),
    ("thinned with other solder it becomes harmless", "the cadmium is still all there, now in more solder"),
    ("all cautions belong to every job", "a list that is always the same is not read"),
    ("cautions are for beginners: one for each job is enough", "each answers a danger of its own: lead and a lamp have nothing in common"),
    // A job of one's own.
    ("the step that stands later in the file comes later", "the file only lists the steps: `after`, and what nobody reaches any more, set their order"),
    ("steps that heat come last", "what is heated late heats all that stands by then"),
    ("the alloy that melts lowest always leaves most", "it keeps others cool while it is soldered, but it must bear all later heats itself"),
    ("the first alloy of the shelf is taken", "every alloy is reckoned through, and the one that leaves most is taken"),
    // Not known.
    ("the most likely alloy decides", "if the unlikely one is there, the data are lost: the worst candidate decides until it is ruled out"),
    ("what is not known is taken as the highest-melting candidate", "that is the kindest guess: the lowest one is the one that melts"),
    ("a label is a label: the first alloy that fits is meant", "several alloys fit, and they melt far apart"),
    ("all solders of one label melt alike", "the same words are printed on spools that melt a hundred kelvins apart"),
    ("no label can ever be trusted", "a label that names one solder is evidence; it is the label that fits several that must be asked about"),
    ("the colour of the solder tells the rest", "leaded and lead-free solders can both shine or be dull"),
    ("a number without a scale is always °C", "profile sheets come in °F as well: only one of the two makes sense for this alloy"),
    ("sheets state the setting of the oven, so it is right as it is", "a profile is measured at the board; and as it stands it would burn it"),
    ("the hotter the surer: what melts is solder", "where both candidates melt, the test tells nothing"),
    ("shine tells leaded from lead-free without any heat", "cooling, age and flux change the shine more than the alloy does"),
];

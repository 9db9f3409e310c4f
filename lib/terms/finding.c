/* finding.c - findings as text.
 *
 * What to measure at an element, and that a resistance tells it: P = U^2 / R. That cut-outs
 * are reset by hand, and what is likely first: common practice, no source. */
#include "terms/finding.h"

#include "terms/caution.h"
#include "terms/phrase.h"

#define SCALD " Water may be scalding hot: warn the household."

struct row {
    const char *id;
    enum finding_subject subject;
    struct phrase says, first;
    struct phrase brief; /* instead of `says`, where number 1 is not known */
};

static const struct row rows[FINDING_COUNT] = {
    [FINDING_NONE] = {.id = "none",
                      .subject = FINDING_OF_SITE,
                      .says = {.text = "nothing"},
                      .first = {.text = "nothing"}},
    [FINDING_NO_POWER] =
        {.id = "no-power",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: no power reaches the element, or it is open: switched on %, and the "
                  "meter did not rise by its %",
                  {{PHRASE_TIMES, 0}, {PHRASE_POWER, 1}}},
         .first =
             {"Look at its breaker and at the reset button of its cut-out. Then three measurements "
              "tell "
              "which: voltage at the contactor's coil while ordered on (none: output or its "
              "wiring); "
              "voltage at its outgoing terminals (none: contactor or supply); with the supply "
              "isolated, "
              "the element's resistance, about % expected (open: element; right: thermostat or "
              "cut-out)." ISOLATE,
              {{PHRASE_RESISTANCE, 2}}}},
    [FINDING_TEST_WITHOUT_DRAW] =
        {.id = "test-without-draw",
         .subject = FINDING_OF_LOAD,
         .says =
             {"possible: no power reaches the element, it is open, or its water is hot already: "
              "a test switched it %, and the meter did not change by its %",
              {{PHRASE_TIMES, 0}, {PHRASE_POWER, 1}}},
         .first =
             {.text =
                  "See whether a tap runs hot, with care: it may scald; if so, test again once "
                  "hot water was used. If it is cold: its breaker, the reset button of its "
                  "cut-out, its contactor, its element, in this order; a contact that is welded "
                  "or bypassed looks the same." ISOLATE}},
    [FINDING_NOT_CLOSING] =
        {.id = "contactor-open",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: its contactor does not close: ordered on %, and its sensed contact "
                  "stayed open",
                  {{PHRASE_TIMES, 0}}},
         .first =
             {.text =
                  "Measure the voltage at the contactor's coil while ordered on (none: relay, fuse "
                  "or "
                  "wiring of the coil; right: contactor), then whether its supply is on." ISOLATE}},
    [FINDING_ELEMENT_OPEN] =
        {.id = "element-open",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: element, thermostat or cut-out open: its contactor closed %, and the "
                  "meter did not rise by its %",
                  {{PHRASE_TIMES, 0}, {PHRASE_POWER, 1}}},
         .first = {"Press the reset button of its cut-out. Then measure the element's resistance "
                   "with the "
                   "supply isolated: about % expected." ISOLATE,
                   {{PHRASE_RESISTANCE, 2}}}},
    [FINDING_ELEMENT_PART] =
        {.id = "element-part",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: part of the element is gone: draws % of %, about %, seen %",
                  {{PHRASE_POWER, 0}, {PHRASE_POWER, 1}, {PHRASE_PART, 2}, {PHRASE_TIMES, 3}}},
         .first = {.text = "Measure each rod's resistance, and each phase's fuse." ISOLATE}},
    [FINDING_ELEMENT_DRIFT] =
        {.id = "element-drift",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: the element ages: % at the voltage measured, % at first; % of its "
                  "power left",
                  {{PHRASE_RESISTANCE, 0}, {PHRASE_RESISTANCE, 1}, {PHRASE_PERMILLE, 2}}},
         .first = {.text = "Plan its replacement; look at its terminals for heat." ISOLATE}},
    [FINDING_CONTACT_STUCK] =
        {.id = "contact-stuck",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: contact welded or bypassed: ordered off %, and the meter did not fall "
                  "by "
                  "the % that it drew",
                  {{PHRASE_TIMES, 1}, {PHRASE_POWER, 0}}},
         .first = {.text = "Look for a switch or link across the contactor, then at its contacts; "
                           "replace it "
                           "rather than free it." ISOLATE SCALD},
         .brief =
             {"possible: contact welded or bypassed: runs of its % without an order, and its own "
              "starts "
              "show nothing",
              {{PHRASE_POWER, 0}}}},
    [FINDING_FOREIGN_SWITCHING] =
        {.id = "switched-elsewhere",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: somebody or something else switches it: % a step of its % without an "
                  "order",
                  {{PHRASE_TIMES, 0}, {PHRASE_POWER, 1}}},
         .first = {.text = "Ask who uses a switch, timer or bypass; another appliance of the same "
                           "power looks "
                           "the same." ISOLATE}},
    [FINDING_THERMOSTAT_CLOSED] =
        {.id = "thermostat-closed",
         .subject = FINDING_OF_LOAD,
         .says =
             {"possible: thermostat does not open: % drawn without a stop, and the tank holds %",
              {{PHRASE_ENERGY, 0}, {PHRASE_ENERGY, 1}}},
         .first =
             {.text =
                  "Switch the load off now, and measure the temperature at a tap with care; then "
                  "look at thermostat and cut-out. A hot tap left running looks the "
                  "same." SCALD ISOLATE}},
    [FINDING_NOT_SATISFIED] =
        {.id = "not-satisfied",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: tank too small or use too high: not heated through for % days; % a "
                  "day drawn",
                  {{PHRASE_NUMBER, 0}, {PHRASE_ENERGY, 1}}},
         .first =
             {.text =
                  "Compare with the household's use; look for a hot tap or valve that drips; a "
                  "longer guarantee, or a higher one, is a setting. Water that is not heated "
                  "through "
                  "each week can carry Legionella: local codes say what is asked."}},
    [FINDING_LOSES_HEAT] =
        {.id = "loses-heat",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: heat is lost without use: about % on average, % usual",
                  {{PHRASE_POWER, 0}, {PHRASE_POWER, 1}}},
         .first =
             {.text =
                  "Look for a relief valve that weeps, a hot tap or pipe that leaks, a circulation "
                  "pump, wet insulation." SCALD}},
    [FINDING_GUARANTEE_AT_RISK] =
        {.id = "guarantee-at-risk",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: its guarantee by % will be missed: % of it cannot be had in time",
                  {{PHRASE_CLOCK, 2}, {PHRASE_AMOUNT, 1}}},
         .first =
             {.text =
                  "See what keeps it off (its reason) or cold (its other faults); a manual run now "
                  "may still keep it."},
         .brief =
             {"possible: its guarantee by % will be missed: it was switched on and drew nothing",
              {{PHRASE_CLOCK, 2}}}},
    [FINDING_CONTACTOR_WORN] =
        {.id = "contactor-worn",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: its contactor nears the end of its life: % operations of % rated",
                  {{PHRASE_NUMBER, 0}, {PHRASE_NUMBER, 1}}},
         .first = {.text = "Plan its replacement at the next visit." ISOLATE}},
    [FINDING_OUTPUT_CONTRADICTS] =
        {.id = "output-contradicts",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: its relay board is faulty: it said one thing and did another %",
                  {{PHRASE_TIMES, 0}}},
         .first =
             {.text = "Look at the board's supply, address and wiring; swap its channel." ISOLATE}},
    [FINDING_BOARD_RESTARTED] =
        {.id = "board-restarted",
         .subject = FINDING_OF_LOAD,
         .says = {"possible: its relay board restarts by itself: found off though ordered on %",
                  {{PHRASE_TIMES, 0}}},
         .first = {.text = "Look at the board's power supply and earth, and at the coil's "
                           "suppressor; another "
                           "hand at the board looks the same." ISOLATE}},
    [FINDING_GRID_REVERSED] =
        {.id = "grid-reversed",
         .subject = FINDING_OF_METER,
         .says = {"possible: the grid meter's sign is reversed: a load's start lowered import by "
                  "its %, %",
                  {{PHRASE_POWER, 1}, {PHRASE_TIMES, 0}}},
         .first =
             {.text =
                  "Check which way round the meter or its transformers are wired, then the setting "
                  "that inverts its sign." ISOLATE}},
    [FINDING_PHASE_REVERSED] =
        {.id = "phase-reversed",
         .subject = FINDING_OF_PHASE,
         .says = {"possible: the current transformer of this phase is reversed: a start of % there "
                  "showed %, %",
                  {{PHRASE_POWER, 1}, {PHRASE_POWER, 2}, {PHRASE_TIMES, 0}}},
         .first = {.text = "Turn the transformer round, arrow towards the load, or swap its two "
                           "wires; never "
                           "open a current transformer's secondary under load." ISOLATE}},
    [FINDING_PHASES_SWAPPED] =
        {.id = "phases-swapped",
         .subject = FINDING_OF_PHASE,
         .says = {"possible: load or current transformer on another phase: a start on L% showed on "
                  "L%, %",
                  {{PHRASE_NUMBER, 1}, {PHRASE_NUMBER, 2}, {PHRASE_TIMES, 0}}},
         .first =
             {.text =
                  "Check which phase feeds the load, and that each transformer's phase and voltage "
                  "lead match; then the load's setting `phases`." ISOLATE}},
    [FINDING_METER_STUCK] =
        {.id = "meter-stuck",
         .subject = FINDING_OF_METER,
         .says = {"possible: the meter repeats one value: unchanged for %", {{PHRASE_DURATION, 0}}},
         .first = {.text = "Restart the meter or its gateway; check its map and address." ISOLATE}},
    [FINDING_SOLAR_GONE] =
        {.id = "solar-gone",
         .subject = FINDING_OF_METER,
         .says = {"possible: solar fails: nothing produced for % of daylight",
                  {{PHRASE_DURATION, 0}}},
         .first = {.text = "Look at the inverter's display and its breakers." ISOLATE}},
};

static const struct row *row_of(enum finding_kind kind)
{
    return &rows[(unsigned)kind < FINDING_COUNT ? kind : FINDING_NONE];
}

const char *finding_id(enum finding_kind kind)
{
    return row_of(kind)->id;
}

enum finding_subject finding_subject(enum finding_kind kind)
{
    return row_of(kind)->subject;
}

static void write(const struct phrase *phrase, const struct finding *finding, struct text *text)
{
    const struct phrase_numbers numbers = {
        .number = finding->number, .count = FINDING_NUMBERS, .measure = finding->measure};
    phrase_write(phrase, &numbers, text);
}

void finding_write(const struct finding *finding, struct text *text)
{
    const struct row *row = row_of((enum finding_kind)finding->kind);
    write(row->brief.text && finding->number[1] < 0 ? &row->brief : &row->says, finding, text);
}

void finding_write_first(const struct finding *finding, struct text *text)
{
    write(&row_of((enum finding_kind)finding->kind)->first, finding, text);
}

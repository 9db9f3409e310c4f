/* compare_words.c - a comparison in sentences.
 *
 * Says what the figures say and no more: where nothing pays, to buy nothing; where two
 * are too close, that they are; where there is one sample, that its luck is not known. */
#include <math.h>
#include <string.h>

#include "compare_sentence.h"
#include "house/tap.h"
#include "replay_home.h"

enum { WHOLE_YEAR_DAYS = 360 };

const char *compare_load_title(const struct comparison *comparison)
{
    const struct load_names *names = &comparison->settings->names[0];
    return *names->title ? names->title : names->name;
}

static void write_date(struct text *text, int32_t day)
{
    struct date date = date_of_days(day);
    text_add(text, "%d %s %d", date.day, month_name(date.month), date.year);
}

void compare_write_span(const struct comparison *comparison, struct text *text)
{
    const struct days *days = comparison->compare->wish.days;
    const struct zone *zone = &comparison->settings->rules.zone;
    struct wall last = {days->first.ms + ((int64_t)days->steps * days->step_s - 1) * MS_PER_S};
    write_date(text, local_of_wall(zone, days->first).day);
    text_add(text, " to ");
    write_date(text, local_of_wall(zone, last).day);
}

static void say_purchase(struct sentence *sentence, enum compare_way way)
{
    compare_write_purchase(sentence->comparison, way, &sentence->text);
}

/* ---- what to buy --------------------------------------------------------------- */

static void say_range(struct sentence *sentence, double least, double most)
{
    if (most - least < 1)
        return;
    say(sentence, " (");
    say_money(sentence, least);
    say(sentence, " to ");
    say_money(sentence, most);
    say(sentence, ")");
}

static void say_offer(struct sentence *sentence, const struct compare_offer *offer)
{
    const struct comparison *comparison = sentence->comparison;
    say(sentence, "It costs ");
    say_money(sentence, offer->cost);
    say(sentence, " and saves ");
    say_money(sentence, offer->saves);
    say(sentence, " a year against leaving the heater always on");
    say_range(sentence, offer->saves_least, offer->saves_most);
    if (offer->cold >= 1) {
        say(sentence, ", less ");
        say_money(sentence, offer->cold);
        say(sentence, " that its colder water counts");
    }
    if (offer->cost > 0)
        say(sentence, "; paid back in %.1f years", offer->payback_years);
    say(sentence, ". Over %u years that leaves ", comparison->compare->wish.quote->years);
    say_money(sentence, offer->net);
    say_range(sentence, offer->net_least, offer->net_most);
    say(sentence, ".");
}

static void tell_buy(struct sentence *sentence)
{
    const struct comparison *comparison = sentence->comparison;
    const struct compare_verdict *verdict = comparison->verdict;
    if (verdict->buy == WAY_ALWAYS_ON) {
        say(sentence,
            "Buy nothing: over %u years no purchase pays for itself in this home, colder showers "
            "counted.",
            comparison->compare->wish.quote->years);
        sentence_end(sentence);
        return;
    }
    say(sentence, "Buy ");
    say_purchase(sentence, verdict->buy);
    say(sentence, ".");
    sentence_end(sentence);
    say_offer(sentence, &verdict->offer[verdict->buy]);
    sentence_end(sentence);
}

/* Who is told that two are alike may take what is simpler, or at hand. */
static void tell_near(struct sentence *sentence)
{
    const struct compare_verdict *verdict = sentence->comparison->verdict;
    int near = 0, told = 0;
    for (int way = 0; way < WAY_COUNT; way++)
        near += verdict->offer[way].near;
    if (near == 0)
        return;
    say(sentence, "Near-tie: as good, as far as these days can tell, %s ", near > 1 ? "are" : "is");
    for (int way = 0; way < WAY_COUNT; way++)
        if (verdict->offer[way].near) {
            told++;
            say(sentence, "%s", told == 1 ? "" : told == near ? " and " : ", ");
            say_purchase(sentence, (enum compare_way)way);
        }
    say(sentence, ". Between these take what is simpler, or what you would rather look after.");
    sentence_end(sentence);
}

static void tell_second(struct sentence *sentence)
{
    const struct comparison *comparison = sentence->comparison;
    const struct compare_verdict *verdict = comparison->verdict;
    if (verdict->second == WAY_COUNT)
        return;
    say(sentence, "Next comes ");
    say_purchase(sentence, verdict->second);
    say(sentence, ", ");
    say_money(sentence, verdict->lead);
    say(sentence, " worse over %u years", comparison->compare->wish.quote->years);
    if (comparison->compare->sample_count > 1) {
        say(sentence, " (");
        say_money(sentence, verdict->lead_least);
        say(sentence, " to ");
        say_money(sentence, verdict->lead_most);
        say(sentence, ")");
    }
    say(sentence, ". The order turns if the first costs ");
    say_money(sentence, verdict->lead);
    say(sentence, " more to buy, or saves ");
    say_money(sentence, verdict->lead / comparison->compare->wish.quote->years);
    say(sentence, " a year less, than stated here.");
    sentence_end(sentence);
}

static void say_first_in(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    say(sentence, "first in %d of %d samples (", sentence->comparison->verdict->first_in,
        compare->sample_count);
    if (compare->years > 1)
        say(sentence, "%d years%s", compare->years, compare->seeds > 1 ? ", each with " : "");
    if (compare->seeds > 1)
        say(sentence, "%d versions of the clouds and appliances within the hours", compare->seeds);
    say(sentence, ")");
}

/* One answer; what it comes from follows it. */
static void tell_sure(struct sentence *sentence)
{
    static const char *const answers[] = {
        [SURE_ALIKE] = "fairly sure, as far as these days show",
        [SURE_THIS_HOME] = "only if the home is as assumed here",
        [SURE_NOT] = ("not; it is too close to call: slightly different weather, use or prices "
                      "would change the advice"),
    };
    const struct compare *compare = sentence->comparison->compare;
    const struct compare_verdict *verdict = sentence->comparison->verdict;
    if (compare->days_long < WHOLE_YEAR_DAYS)
        say(sentence, "How sure: not, for a year; these are %.0f days. ", compare->days_long);
    else
        say(sentence, "How sure: %s. ", answers[verdict->sure]);
    if (compare->sample_count == 1) {
        say(sentence, "These days are one sample; how much another year would change is not known "
                      "from them.");
        sentence_end(sentence);
        return;
    }
    say(sentence, "It came ");
    say_first_in(sentence);
    if (verdict->sure == SURE_NOT && verdict->lead_least > 0)
        say(sentence, ", but by less than a tenth of what it leaves");
    say(sentence, ".%s",
        compare->years > 1
            ? ""
            : " The spread is that of clouds alone: another year, other people or other prices "
              "may change more.");
    sentence_end(sentence);
}

/* ---- other people in the home, or a duller sky -------------------------------------------- */

static void tell_same(struct sentence *sentence)
{
    const struct compare_verdict *verdict = sentence->comparison->verdict;
    int holds = 0, told = 0;
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        holds += verdict->with[v].reason == TURN_NONE;
    if (holds == 0)
        return;
    say(sentence, "The advice stays the same with ");
    for (int v = 0; v < COMPARE_VARIANTS; v++)
        if (verdict->with[v].reason == TURN_NONE)
            say(sentence, "%s%s",
                told++ == 0     ? ""
                : told == holds ? " or "
                                : ", ",
                compare_variants[v].what);
    say(sentence, ".");
    sentence_end(sentence);
}

static void say_reason(struct sentence *sentence, const struct compare_turn *turn)
{
    unsigned years = sentence->comparison->compare->wish.quote->years;
    switch (turn->reason) {
    case TURN_UNPAID:
        say(sentence, "falls ");
        say_money(sentence, turn->by);
        say(sentence, " short of paying for itself in %u years there", years);
        break;
    case TURN_BEATEN:
        say(sentence, "would leave ");
        say_money(sentence, turn->by);
        say(sentence, " less over %u years there", years);
        break;
    case TURN_NONE:
        break;
    }
}

static void tell_turns(struct sentence *sentence)
{
    const struct compare_verdict *verdict = sentence->comparison->verdict;
    for (int v = 0; v < COMPARE_VARIANTS; v++) {
        const struct compare_turn *turn = &verdict->with[v];
        if (turn->reason == TURN_NONE)
            continue;
        say(sentence, "With %s it would be ", compare_variants[v].what);
        say_purchase(sentence, turn->first);
        say(sentence, ": ");
        say_purchase(sentence, verdict->buy);
        say(sentence, " ");
        say_reason(sentence, turn);
        say(sentence, ".");
        sentence_end(sentence);
    }
}

void compare_tell_verdict(const struct comparison *comparison, compare_line *line, void *context)
{
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    tell_buy(&sentence);
    tell_second(&sentence);
    tell_near(&sentence);
    tell_sure(&sentence);
    tell_same(&sentence);
    tell_turns(&sentence);
}

/* ---- what speaks against others ------------------------------------------------------ */

static void say_comfort(struct sentence *sentence, const struct compare_figures *figures)
{
    say(sentence, "%.0f spoilt shower%s a year and %.0f kWh that came below %.0f °C",
        figures->spoilt, figures->spoilt >= 0.5 && figures->spoilt < 1.5 ? "" : "s",
        figures->cool_kwh, TAP_COOL_C);
}

/* Of what is advised and of what is next to it. */
static void tell_cold(struct sentence *sentence)
{
    const struct comparison *comparison = sentence->comparison;
    const struct compare_verdict *verdict = comparison->verdict;
    const struct compare *compare = comparison->compare;
    const struct compare_figures *always = &compare->result[WAY_ALWAYS_ON].mean;
    for (int way = WAY_ALWAYS_ON + 1; way < WAY_FORESIGHT_SWITCHED; way++) {
        const struct compare_figures *figures = &compare->result[way].mean;
        bool looked_at = way == (int)verdict->buy || way == (int)verdict->second;
        if (!looked_at || figures->spoilt < always->spoilt + 1)
            continue;
        say(sentence, "Colder water: ");
        say_purchase(sentence, (enum compare_way)way);
        say(sentence, " comes with ");
        say_comfort(sentence, figures);
        say(sentence, ", against ");
        say_comfort(sentence, always);
        say(sentence, " with always on. It is counted above as ");
        say_money(sentence, verdict->offer[way].cold);
        say(sentence, " a year; a household that minds it more should not buy it.");
        sentence_end(sentence);
    }
}

static void tell_valve(struct sentence *sentence)
{
    const struct comparison *comparison = sentence->comparison;
    enum compare_way buy = comparison->verdict->buy;
    int32_t set_mc = comparison->compare->fit[buy].hardware.set_mc;
    if (set_mc <= comparison->compare->present.set_mc)
        return;
    say(sentence,
        "The thermostat is set higher than now, to %d °C: a tempering valve before the taps is in "
        "the price, and belongs there.",
        set_mc / 1000);
    sentence_end(sentence);
}

static void tell_span(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    if (compare->days_long >= WHOLE_YEAR_DAYS)
        return;
    say(sentence,
        "These are %.0f days, not a year. Yearly figures are theirs, stretched: seasons that are "
        "not in them are not in the figures. Do not quote on them.",
        compare->days_long);
    sentence_end(sentence);
}

static void tell_demand(struct sentence *sentence)
{
    if (sentence->comparison->compare->tariff.demand_count == 0)
        return;
    say(sentence, "The bounds know no demand charge: what could be saved, and the shares, are "
                  "therefore only an upper and lower estimate.");
    sentence_end(sentence);
}

void compare_tell_doubts(const struct comparison *comparison, compare_line *line, void *context)
{
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    tell_span(&sentence);
    tell_cold(&sentence);
    tell_valve(&sentence);
    tell_demand(&sentence);
}

/* ---- what was assumed ------------------------------------------------------------------ */

/* Against the first sample, so that the clouds are the only difference. */
static void say_flat_saving(struct sentence *sentence, enum compare_way way)
{
    const struct compare *compare = sentence->comparison->compare;
    say(sentence, "%s saves ", compare_way_name(way));
    say_money(sentence,
              compare->result[WAY_ALWAYS_ON].sample[0].bill - compare->result[way].sample[0].bill);
    say(sentence, " (");
    say_money(sentence, compare->flat_result[WAY_ALWAYS_ON].bill - compare->flat_result[way].bill);
    say(sentence, ")");
}

static void tell_refined(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    const struct compare_verdict *verdict = sentence->comparison->verdict;
    if (!compare->refined)
        return;
    say(sentence, "what minute-by-minute detail changes");
    if (compare->sample_count > 1)
        say(sentence, " in the first of %d samples", compare->sample_count);
    say(sentence, ", with the steps as they are in brackets: %.0f kWh a year are to spare (%.0f), ",
        compare->spare_kwh, compare->flat_spare_kwh);
    if (verdict->buy != WAY_ALWAYS_ON &&
        !compare_same_purchase(compare, verdict->buy, WAY_SLUICE)) {
        say_flat_saving(sentence, verdict->buy);
        say(sentence, ", ");
    }
    say_flat_saving(sentence, WAY_SLUICE);
    say(sentence, "; its contactor closes %.0f times (%.0f)",
        compare->result[WAY_SLUICE].sample[0].cycles, compare->flat_result[WAY_SLUICE].cycles);
    sentence_end(sentence);
}

/* The customer has no use for the folders of whoever made the page. */
static const char *file_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static void tell_days(struct sentence *sentence)
{
    const struct days_report *report = sentence->comparison->days_report;
    for (int k = 0; k < report->count; k++) {
        say(sentence, "%s: %s", file_of(report->item[k].place), report->item[k].text);
        sentence_end(sentence);
    }
    if (report->untold > 0) {
        say(sentence, "%zu more remarks on the days, not listed", report->untold);
        sentence_end(sentence);
    }
}

static void tell_samples(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    const struct days *days = compare->wish.days;
    say(sentence, "days from %s in steps of ", file_of(sentence->comparison->path));
    quantity_write(QUANTITY_DURATION_MS, (int64_t)days->step_s * MS_PER_S, &sentence->text);
    if (compare->refined)
        say(sentence, ", made minutes by clouds and appliances as they may have been");
    if (compare->refined && compare->seeds > 1)
        say(sentence, ", %d times over", compare->seeds);
    sentence_end(sentence);
    tell_days(sentence);
}

static void tell_timer(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    say(sentence, "the timer runs ");
    hours_write(&compare->fit[WAY_TIMER].hours, &sentence->text);
    if (compare->wish.quote->timer_hours.count == 0)
        say(sentence, ", the best of some usual hours here");
    sentence_end(sentence);
}

static void tell_boost(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    const struct trial_boost *boost = &compare->fit[WAY_DIVERTER].boost;
    say(sentence, "the diverter gives all that would be exported");
    if (!boost->there)
        say(sentence, "; it never heats from the grid");
    else if (boost->below_c > 0)
        say(sentence,
            " and, by the thermometer in the tank, heats from the grid below "
            "%.0f °C up to %.0f °C",
            boost->below_c, boost->to_c);
    else {
        say(sentence, " and heats from the grid ");
        hours_write(&boost->hours, &sentence->text);
    }
    if (compare->wish.quote->boost_hours.count == 0)
        say(sentence, ", the best of some usual ways here");
    sentence_end(sentence);
}

static void tell_search(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    say(sentence,
        "of each kind of switch the best of what was tried is shown: smaller elements, stages of "
        "the same power in all, thermostats at 60, 65 and 70 °C, a tank sensor, usual hours and "
        "settings; %d runs on one version of the days, the best of each on all",
        compare->searched);
    sentence_end(sentence);
}

static void tell_money(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    say(sentence,
        "the bill is the whole household's; what heat is left in the tank at the end counts %.2f "
        "a kWh",
        compare->left_price);
    sentence_end(sentence);
}

void compare_tell_refined(const struct comparison *comparison, compare_line *line, void *context)
{
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    tell_refined(&sentence);
}

void compare_tell_foreseen(const struct comparison *comparison, compare_line *line, void *context)
{
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    say(&sentence,
        "foreseen: the least that could have been paid with the present element, switched on and "
        "off or taking any power, by somebody who knew the weather and each draw beforehand; "
        "nobody can buy it%s. A share is how much of what that saves a way saves: on/off for timer "
        "and contactor, any power for diverter and regulator; with another element or thermostat, "
        "and for the off-peak supply, there is none",
        comparison->compare->home.tank[0].heater.tank.layers > 1
            ? ", and a layered tank cannot reach it"
            : "");
    sentence_end(&sentence);
}

static void tell_showers(struct sentence *sentence)
{
    say(sentence,
        "a shower is spoilt below %.0f °C for over a minute; \"cold\" is what hot water counts "
        "that is missing or too cool: %.2f for each kWh that was wanted and did not come, however "
        "many showers that spoils",
        TAP_SPOILT_C, sentence->comparison->compare->home.unmet_per_kwh);
    sentence_end(sentence);
}

static void tell_left_out(struct sentence *sentence)
{
    int left_out = sentence->comparison->left_out;
    if (left_out == 0)
        return;
    say(sentence, "%s alone is compared; %d other load%s in the settings, left out here",
        sentence->comparison->settings->names[0].name, left_out, left_out == 1 ? " is" : "s are");
    sentence_end(sentence);
}

void compare_tell_assumptions(const struct comparison *comparison, compare_line *line,
                              void *context)
{
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    tell_samples(&sentence);
    home_assumptions(&comparison->compare->home, comparison->settings, comparison->water, line,
                     context);
    tell_left_out(&sentence);
    tell_search(&sentence);
    tell_timer(&sentence);
    tell_boost(&sentence);
    tell_showers(&sentence);
    tell_money(&sentence);
}

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

const char *compare_way_name(enum compare_way way)
{
    static const char *const names[WAY_COUNT] = {
        [WAY_ALWAYS_ON] = "always on",
        [WAY_TIMER] = "clock timer",
        [WAY_CONTROLLED] = "off-peak supply",
        [WAY_DIVERTER] = "diverter",
        [WAY_SLUICE] = "sluice",
        [WAY_TUNED] = "sluice, tuned",
        [WAY_FORESIGHT_SWITCHED] = "ideal on/off",
        [WAY_FORESIGHT_PROPORTIONAL] = "ideal any power",
    };
    return names[way];
}

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

static const char *purchase_name(enum compare_way way)
{
    static const char *const names[WAY_COUNT] = {
        [WAY_ALWAYS_ON] = "buying nothing",       [WAY_TIMER] = "the clock timer",
        [WAY_CONTROLLED] = "the off-peak supply", [WAY_DIVERTER] = "the diverter",
        [WAY_SLUICE] = "sluice as configured",    [WAY_TUNED] = "sluice as tuned",
    };
    return names[way];
}

/* ---- what to buy --------------------------------------------------------------- */

static void say_offer(struct sentence *sentence, const struct compare_offer *offer)
{
    const struct comparison *comparison = sentence->comparison;
    say(sentence, "It costs ");
    say_money(sentence, offer->cost);
    say(sentence, " and saves ");
    say_money(sentence, offer->saves);
    say(sentence, " a year against leaving the heater always on");
    if (offer->saves_most - offer->saves_least >= 1) {
        say(sentence, " (");
        say_money(sentence, offer->saves_least);
        say(sentence, " to ");
        say_money(sentence, offer->saves_most);
        say(sentence, ")");
    }
    if (offer->cost > 0)
        say(sentence, "; paid back in %.1f years", offer->payback_years);
    say(sentence, ". Over %u years that leaves ", comparison->compare->wish.quote->years);
    say_money(sentence, offer->net);
    say(sentence, ".");
}

static void tell_buy(struct sentence *sentence)
{
    const struct comparison *comparison = sentence->comparison;
    const struct compare_verdict *verdict = comparison->verdict;
    if (verdict->buy == WAY_ALWAYS_ON) {
        say(sentence,
            "Buy nothing: over %u years no purchase pays for itself in this home with showers as "
            "warm as now.",
            comparison->compare->wish.quote->years);
        sentence_end(sentence);
        return;
    }
    say(sentence, "Buy %s.", purchase_name(verdict->buy));
    sentence_end(sentence);
    say_offer(sentence, &verdict->offer[verdict->buy]);
    sentence_end(sentence);
}

static void tell_second(struct sentence *sentence)
{
    const struct comparison *comparison = sentence->comparison;
    const struct compare_verdict *verdict = comparison->verdict;
    if (verdict->second == WAY_COUNT)
        return;
    say(sentence, "Next comes %s, ", purchase_name(verdict->second));
    say_money(sentence, verdict->lead);
    say(sentence, " worse over %u years", comparison->compare->wish.quote->years);
    if (comparison->compare->sample_count > 1) {
        say(sentence, " (");
        say_money(sentence, verdict->lead_least);
        say(sentence, " to ");
        say_money(sentence, verdict->lead_most);
        say(sentence, ")");
    }
    say(sentence, ".");
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
    case TURN_COLD:
        say(sentence, "would spoil %.0f showers a year there, against %.0f with always on",
            turn->spoilt, turn->always);
        break;
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
        say(sentence, "With %s it would be %s: %s ", compare_variants[v].what,
            purchase_name(turn->first), purchase_name(verdict->buy));
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
    tell_sure(&sentence);
    tell_same(&sentence);
    tell_turns(&sentence);
}

/* ---- what speaks against others ------------------------------------------------------ */

static void tell_cold(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    for (int way = 0; way < WAY_COUNT; way++) {
        const struct compare_offer *offer = &sentence->comparison->verdict->offer[way];
        if (!offer->there || offer->hot)
            continue;
        say(sentence,
            "%s is ruled out: %.0f spoilt showers a year, against %.0f with always on; up to %d "
            "more "
            "would be accepted.",
            compare_way_name((enum compare_way)way), compare->result[way].mean.spoilt,
            compare->result[WAY_ALWAYS_ON].mean.spoilt, SPOILT_MORE_PER_YEAR);
        sentence->buffer[0] = (char)(sentence->buffer[0] - 'a' + 'A');
        if (way == WAY_SLUICE && !compare->wish.tune)
            say(sentence, " A larger guarantee, or --tune, may fix that.");
        sentence_end(sentence);
    }
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
    if (verdict->buy != WAY_ALWAYS_ON && !compare_same_purchase(verdict->buy, WAY_SLUICE)) {
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
    tell_refined(sentence);
}

static void tell_hours(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    say(sentence, "the timer runs ");
    hours_write(&compare->timer_hours, &sentence->text);
    if (compare->timer_tried)
        say(sentence, ", the best of some usual hours here");
    sentence_end(sentence);
    say(sentence, "the diverter gives all that would be exported");
    if (!compare->boost.there)
        say(sentence, "; it never heats from the grid");
    else if (compare->boost.below_c > 0)
        say(sentence,
            " and, by the thermometer in the tank, heats from the grid below "
            "%.0f °C up to %.0f °C",
            compare->boost.below_c, compare->boost.to_c);
    else {
        say(sentence, " and heats from the grid ");
        hours_write(&compare->boost.hours, &sentence->text);
    }
    if (compare->boost_tried)
        say(sentence, ", the best of some usual ways here");
    sentence_end(sentence);
}

static void tell_money(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    say(sentence,
        "the bill is the whole household's; what heat is left in the tank at the end counts %.2f "
        "a kWh; missing hot water counts %.0f a kWh in the shares, so that "
        "cold showers are no saving",
        compare->left_price, compare->home.unmet_per_kwh);
    sentence_end(sentence);
    say(sentence,
        "ideal: the least that an on/off element, or one of any power, could have cost with "
        "everything known before; nobody sells it%s. Shares are of what it would save against "
        "always on: on/off for the timer%s, any power for the diverter%s; the off-peak supply "
        "has prices of its own and so no share",
        compare->home.tank[0].heater.tank.layers > 1 ? ", and a layered tank cannot reach it" : "",
        compare->load.kind == LOAD_SWITCHED ? " and sluice" : "",
        compare->load.kind == LOAD_SWITCHED ? "" : " and sluice");
    sentence_end(sentence);
}

static void tell_showers(struct sentence *sentence)
{
    say(sentence,
        "a shower is spoilt below %.0f °C for over a minute; a way that spoils up to %d a year "
        "more than always on still counts as hot",
        TAP_SPOILT_C, SPOILT_MORE_PER_YEAR);
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
    tell_hours(&sentence);
    tell_showers(&sentence);
    tell_money(&sentence);
}

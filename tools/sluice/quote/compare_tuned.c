/* compare_tuned.c - what tuning would change, as lines of the settings file, and at what price. */
#include <math.h>
#include <string.h>

#include "compare_sentence.h"

static void write_floor(const struct floor_settings *floor, struct sentence *sentence)
{
    static const char *const measures[] = {
        [FLOOR_TIME] = "time", [FLOOR_ENERGY] = "energy", [FLOOR_SATISFIED] = "satisfied"};
    say(sentence, "      - {measure: %s, amount: ", measures[floor->measure]);
    quantity_write(floor->measure == FLOOR_ENERGY ? QUANTITY_ENERGY_MWH : QUANTITY_DURATION_MS,
                   floor->amount, &sentence->text);
    say(sentence, ", by: \"");
    quantity_write(QUANTITY_TIME_S, floor->by_s, &sentence->text);
    say(sentence, "\", ");
    if (floor->every_days > 0)
        say(sentence, "every_days: %u, ", floor->every_days);
    else if (floor->weekdays != WEEKDAYS_ALL) {
        say(sentence, "days: [");
        weekdays_write(floor->weekdays, &sentence->text);
        say(sentence, "], ");
    }
    say(sentence, "reserve: ");
    quantity_write(QUANTITY_DURATION_MS, floor->reserve_ms, &sentence->text);
    say(sentence, ", grid: %s}",
        floor->grid == FLOOR_IN_CHEAPEST_HOURS ? "cheapest_hours" : "latest_start");
}

static bool floors_differ(const struct load_settings *was, const struct load_settings *now)
{
    return was->floor_count != now->floor_count ||
           memcmp(was->floor, now->floor, sizeof(was->floor)) != 0;
}

static void tell_start(struct sentence *sentence, const struct load_settings *now)
{
    say(sentence, "    start_fraction: ");
    if (now->start_permille == RULES_START_LEARNT)
        say(sentence, "learnt");
    else
        quantity_write(QUANTITY_SHARE_PERMILLE, now->start_permille, &sentence->text);
    sentence_end(sentence);
}

static void tell_water(struct sentence *sentence, const struct heat_settings *water)
{
    const struct {
        const char *key;
        enum quantity_kind unit;
        int64_t value;
    } parts[] = {
        {"volume", QUANTITY_VOLUME_ML, water->volume_ml},
        {"set", QUANTITY_TEMPERATURE_MC, water->set_mc},
        {"hysteresis", QUANTITY_TEMPERATURE_MC, water->hysteresis_mc},
        {"cold", QUANTITY_TEMPERATURE_MC, water->cold_mc},
        {"standing_loss", QUANTITY_ENERGY_MWH, water->loss_mwh},
    };
    say(sentence, "    water: {");
    for (size_t k = 0; k < sizeof parts / sizeof parts[0]; k++) {
        say(sentence, "%s%s: ", k > 0 ? ", " : "", parts[k].key);
        quantity_write(parts[k].unit, parts[k].value, &sentence->text);
    }
    say(sentence, "}");
    sentence_end(sentence);
}

static void tell_floors(struct sentence *sentence, const struct load_settings *now)
{
    say(sentence, "    floors:%s", now->floor_count == 0 ? " []" : "");
    sentence_end(sentence);
    for (int k = 0; k < now->floor_count; k++) {
        write_floor(&now->floor[k], sentence);
        sentence_end(sentence);
    }
}

struct changes {
    bool start, stop, floors;
};

static struct changes changes_of(const struct compare *compare)
{
    const struct load_settings *was = &compare->load, *now = &compare->tuned_load;
    return (struct changes){.start = was->start_permille != now->start_permille,
                            .stop = was->stop_margin_w != now->stop_margin_w,
                            .floors = floors_differ(was, now)};
}

static bool changes_any(const struct compare *compare)
{
    struct changes changes = changes_of(compare);
    return changes.start || changes.stop || changes.floors;
}

bool compare_tell_tuned(const struct comparison *comparison, compare_line *line, void *context)
{
    const struct load_settings *was = &comparison->compare->load;
    const struct load_settings *now = &comparison->compare->tuned_load;
    struct changes changes = changes_of(comparison->compare);
    struct sentence sentence;
    if (!changes_any(comparison->compare))
        return false;
    sentence_begin(&sentence, comparison, line, context);
    say(&sentence, "loads:");
    sentence_end(&sentence);
    say(&sentence, "  %s:", comparison->settings->names[0].name);
    sentence_end(&sentence);
    if (changes.start)
        tell_start(&sentence, now);
    if (was->water.volume_ml != now->water.volume_ml)
        tell_water(&sentence, &now->water);
    if (changes.stop) {
        say(&sentence, "    stop_margin: ");
        quantity_write(QUANTITY_POWER_W, now->stop_margin_w, &sentence.text);
        sentence_end(&sentence);
    }
    if (changes.floors)
        tell_floors(&sentence, now);
    return true;
}

/* Tuning sees some of the samples; the table and the verdict, all. */
static void tell_out(struct sentence *sentence)
{
    const struct compare *compare = sentence->comparison->compare;
    const struct compare_offer *offer = &sentence->comparison->verdict->offer[WAY_TUNED];
    if (!changes_any(compare) || !offer->there || offer->hot)
        return;
    say(sentence,
        "Do not use these lines: with them %.0f showers a year are spoilt, as the table of all "
        "samples has it, against %.0f with always on.",
        compare->result[WAY_TUNED].mean.spoilt, compare->result[WAY_ALWAYS_ON].mean.spoilt);
    sentence_end(sentence);
}

void compare_tell_tuning(const struct comparison *comparison, compare_line *line, void *context)
{
    const struct compare *compare = comparison->compare;
    const struct compare_figures *cold = &compare->tune_cold;
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    tell_out(&sentence);
    if (compare->load.start_permille == RULES_START_LEARNT &&
        compare->tuned_load.start_permille != RULES_START_LEARNT) {
        say(&sentence, "This replaces start_fraction: learnt, which would have cost ");
        say_money(&sentence,
                  compare->result[WAY_SLUICE].mean.cost - compare->result[WAY_TUNED].mean.cost);
        say(&sentence, " a year more on these days (what is missing of hot water counted). A fixed "
                       "fraction does not follow when the household or the seasons change.");
        sentence_end(&sentence);
    }
    if (!isfinite(cold->spoilt))
        return;
    say(&sentence, "Some settings with a smaller bill spoil too many showers: on the samples "
                   "tuned on, the warmest of them would save ");
    say_money(&sentence, compare->tune_best.bill - cold->bill);
    say(&sentence, " a year more, and spoil %.0f showers a year in place of %.0f.", cold->spoilt,
        compare->tune_best.spoilt);
    sentence_end(&sentence);
}

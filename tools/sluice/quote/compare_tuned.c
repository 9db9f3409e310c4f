/* compare_tuned.c - what other hardware or tuning would change, as lines of the settings file. */
#include <math.h>
#include <string.h>

#include "compare_sentence.h"
#include "rules/kind.h"

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
        {"room", QUANTITY_TEMPERATURE_MC, water->room_mc},
        {"standing_loss", QUANTITY_ENERGY_MWH, water->loss_mwh},
        {"usable", QUANTITY_SHARE_PERMILLE, water->usable_permille},
        {"missing", QUANTITY_PRICE_MICRO, water->missing_micro},
    };
    say(sentence, "    water: {");
    for (size_t k = 0; k < sizeof parts / sizeof parts[0]; k++) {
        say(sentence, "%s%s: ", k > 0 ? ", " : "", parts[k].key);
        quantity_write(parts[k].unit, parts[k].value, &sentence->text);
    }
    if (water->probed)
        say(sentence, ", probe: yes");
    if (water->probed && water->probe_permille > 0) {
        say(sentence, ", probe_height: ");
        quantity_write(QUANTITY_SHARE_PERMILLE, water->probe_permille, &sentence->text);
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
    bool kind, power, start, stop, rests, water, floors;
};

static struct changes changes_of(const struct load_settings *was, const struct load_settings *now)
{
    bool sensed = was->water.probed != now->water.probed;
    return (struct changes){
        .kind = was->kind != now->kind || was->stages != now->stages,
        .power = was->power_w != now->power_w,
        .start = was->start_permille != now->start_permille,
        .stop = was->stop_margin_w != now->stop_margin_w,
        .rests = was->min_on_ms != now->min_on_ms || was->min_off_ms != now->min_off_ms,
        .water = now->water.volume_ml > 0 && (was->water.volume_ml != now->water.volume_ml ||
                                              was->water.set_mc != now->water.set_mc || sensed),
        .floors = floors_differ(was, now),
    };
}

static void tell_quantity(struct sentence *sentence, const char *key, int32_t w)
{
    say(sentence, "    %s: ", key);
    quantity_write(QUANTITY_POWER_W, w, &sentence->text);
    sentence_end(sentence);
}

static void tell_rest(struct sentence *sentence, const char *key, int32_t ms)
{
    say(sentence, "    %s: ", key);
    quantity_write(QUANTITY_DURATION_MS, ms, &sentence->text);
    sentence_end(sentence);
}

/* Of stages their powers are told, in place of one power. */
static void tell_kind(struct sentence *sentence, const struct load_settings *now)
{
    say(sentence, "    kind: %s", kind_choices[now->kind].word);
    sentence_end(sentence);
    if (now->kind == LOAD_SETPOINT)
        tell_quantity(sentence, "least", now->least_w);
    if (now->kind != LOAD_STAGED)
        return;
    say(sentence, "    stages: [");
    for (int s = 0; s < now->stages; s++) {
        say(sentence, "%s", s > 0 ? ", " : "");
        quantity_write(QUANTITY_POWER_W, now->stage_w[s], &sentence->text);
    }
    say(sentence, "]");
    sentence_end(sentence);
}

bool compare_tell_lines(const struct comparison *comparison, enum compare_way way,
                        compare_line *line, void *context)
{
    const struct load_settings *was = &comparison->compare->fit[WAY_SLUICE].load;
    const struct load_settings *now = &comparison->compare->fit[way].load;
    struct changes changes = changes_of(was, now);
    struct sentence sentence;
    if (!changes.kind && !changes.power && !changes.start && !changes.stop && !changes.water &&
        !changes.floors)
        return false;
    sentence_begin(&sentence, comparison, line, context);
    say(&sentence, "loads:");
    sentence_end(&sentence);
    say(&sentence, "  %s:", comparison->settings->names[0].name);
    sentence_end(&sentence);
    if (changes.kind)
        tell_kind(&sentence, now);
    if ((changes.power || changes.kind) && now->kind != LOAD_STAGED)
        tell_quantity(&sentence, "power", now->power_w);
    if (changes.start)
        tell_start(&sentence, now);
    if (changes.water)
        tell_water(&sentence, &now->water);
    if (changes.stop)
        tell_quantity(&sentence, "stop_margin", now->stop_margin_w);
    if (changes.rests) {
        tell_rest(&sentence, "minimum_on", now->min_on_ms);
        tell_rest(&sentence, "minimum_off", now->min_off_ms);
    }
    if (changes.floors)
        tell_floors(&sentence, now);
    return true;
}

void compare_tell_tuning(const struct comparison *comparison, compare_line *line, void *context)
{
    const struct compare *compare = comparison->compare;
    struct sentence sentence;
    sentence_begin(&sentence, comparison, line, context);
    if (compare->fit[WAY_SLUICE].load.start_permille != RULES_START_LEARNT ||
        compare->fit[WAY_TUNED].load.start_permille == RULES_START_LEARNT)
        return;
    say(&sentence, "This replaces start_fraction: learnt, which would have cost ");
    say_money(&sentence,
              compare->result[WAY_SLUICE].mean.cost - compare->result[WAY_TUNED].mean.cost);
    say(&sentence, " a year more on these days (what is missing of hot water counted). A fixed "
                   "fraction does not follow when the household or the seasons change.");
    sentence_end(&sentence);
}

/* together.c - guarantees that stand in each other's way.
 *
 * What is checked is necessary, not sufficient: over a plain week, loads that have only
 * certain hours between them can't draw more than the limit lets through in those hours,
 * and loads of which no two fit below it run one after another. A floor counts with its
 * run at full power, of several at one load the longest; rests, reserves and what the
 * household draws come on top. So what is refused here can be kept by no weather. The
 * amount of a floor "satisfied" is a plan, and a warm tank takes less: where only that is
 * too much it is a notice. */
#include <string.h>

#include "rules/kind.h"
#include "sense.h"
#include "sentence.h"

enum {
    DAY_MIN = 24 * 60,
    WEEK_MIN = 7 * DAY_MIN,
    LISTED_MAX = 4, /* names in a message */
};

/* One bit a minute of a plain week. */
struct week {
    uint8_t open[WEEK_MIN / 8];
    int32_t minutes;
};

/* What one load's floors ask of one week. */
struct need {
    int64_t run_ms;
    int32_t most_ma, least_ma; /* on each of its phases, while it runs */
    struct week week;
};

/* Who shares a limit: 0 A stands for `one_at_a_time`. */
struct limit {
    const struct node *node;
    int32_t limit_ma;
    uint8_t group; /* RULES_NO_GROUP: the whole site */
    uint8_t phase; /* its bit; 0: whichever */
    bool planned;  /* with what is only planned for: no more than a notice */
};

static void open_week(const struct hours *hours, struct week *week)
{
    enum { A_MONDAY = 4 }; /* 5 January 1970 */
    memset(week, 0, sizeof(*week));
    for (int32_t minute = 0; minute < WEEK_MIN; minute++) {
        const struct local local =
            local_of_wall(&zone_utc, (struct wall){(int64_t)A_MONDAY * MS_PER_DAY +
                                                   (int64_t)minute * MS_PER_MIN});
        if (hours->count > 0 && !hours_open(hours, &local))
            continue;
        week->open[minute / 8] |= (uint8_t)(1u << minute % 8);
        week->minutes++;
    }
}

static bool lies_within(const struct week *inner, const struct week *outer)
{
    for (size_t k = 0; k < sizeof(inner->open); k++)
        if (inner->open[k] & ~outer->open[k])
            return false;
    return true;
}

/* ---- what a load needs ---------------------------------------------------------------------- */

static int64_t floor_run_ms(const struct load_settings *load, const struct floor_settings *floor)
{
    int64_t run_ms = floor->measure == FLOOR_ENERGY && load->power_w > 0
                         ? floor->amount * 3600 / load->power_w
                         : floor->amount;
    int days = 0;
    for (int day = 0; day < 7; day++)
        days += floor->weekdays >> day & 1;
    return floor->every_days ? run_ms * 7 / floor->every_days : run_ms * (days ? days : 7);
}

static int32_t current_ma(const struct rules_settings *rules, const struct load_settings *load,
                          int32_t power_w)
{
    int phases = phases_count(load->phases);
    return (int32_t)((int64_t)power_w * 1000000 / rules->voltage_mv / (phases ? phases : 1));
}

static void weigh(const struct rules_settings *rules, const struct load_settings *load,
                  bool with_plans, struct need *need)
{
    int32_t least_w = load_start_w(load, NULL);
    need->run_ms = 0;
    for (uint8_t k = 0; k < load->floor_count; k++) {
        bool counts = with_plans || load->floor[k].measure != FLOOR_SATISFIED;
        int64_t run_ms = counts ? floor_run_ms(load, &load->floor[k]) : 0;
        need->run_ms = run_ms > need->run_ms ? run_ms : need->run_ms;
    }
    need->most_ma = current_ma(rules, load, load->power_w);
    need->least_ma = current_ma(rules, load, least_w);
    open_week(&load->hours, &need->week);
}

/* ---- one limit ------------------------------------------------------------------------------ */

static bool is_member(const struct limit *limit, const struct load_settings *load,
                      const struct need *need)
{
    return need->run_ms > 0 && (limit->group == RULES_NO_GROUP || load->group == limit->group) &&
           (limit->phase == 0 || load->phases & limit->phase);
}

/* No two of those fit below it. */
static bool runs_alone(const struct limit *limit, const struct need *need)
{
    return need->least_ma > limit->limit_ma / 2;
}

struct sum {
    int64_t run_ms, charge; /* mA x ms */
    uint32_t members, alone;
    int64_t alone_ms;
};

static void add(struct sum *sum, uint16_t index, const struct limit *limit, const struct need *need)
{
    sum->charge += need->run_ms * need->most_ma;
    sum->members |= 1u << index;
    if (!runs_alone(limit, need))
        return;
    sum->alone_ms += need->run_ms;
    sum->alone |= 1u << index;
}

static void list_names(const struct settings *settings, uint32_t members, struct text *text)
{
    int left = __builtin_popcount(members), listed = 0;
    for (uint16_t i = 0; i < settings->rules.load_count; i++) {
        if (!(members >> i & 1))
            continue;
        if (++listed == LISTED_MAX && left > LISTED_MAX) {
            text_add(text, " and %d more", left - LISTED_MAX + 1);
            return;
        }
        text_add(text, "%s%s",
                 listed == 1      ? ""
                 : listed == left ? " and "
                                  : ", ",
                 settings->names[i].name);
    }
}

static int64_t a_day(int64_t week_ms)
{
    return week_ms / 7 / MS_PER_MIN * MS_PER_MIN;
}

static bool say(const struct reader *reader, const struct limit *limit, const char *text)
{
    if (limit->planned)
        notice_at(reader, limit->node, "%s: %s, if heating takes as long as planned.",
                  limit->node->key, text);
    else
        wrong_at(reader, limit->node, "%s: %s: they can't all be kept", limit->node->key, text);
    return false;
}

/* Whether what these ask fits into `open_ms` of a week. */
static bool judge(const struct reader *reader, const struct settings *settings,
                  const struct limit *limit, const struct sum *sum, int64_t open_ms)
{
    char listed[160], buffer[TROUBLE_TEXT_MAX];
    struct text names = text_in(listed, sizeof(listed)), text = text_in(buffer, sizeof(buffer));
    if (sum->alone_ms > open_ms) {
        list_names(settings, sum->alone, &names);
        text_add(&text,
                 "the floors of %s need %s a day, one after another%s, but their hours have only "
                 "%s a day",
                 listed, AMOUNT(QUANTITY_DURATION_MS, a_day(sum->alone_ms)),
                 limit->limit_ma ? ", as no two of them fit below it" : "",
                 AMOUNT(QUANTITY_DURATION_MS, a_day(open_ms)));
        return say(reader, limit, buffer);
    }
    if (limit->limit_ma == 0 || sum->charge / limit->limit_ma <= open_ms)
        return true;
    list_names(settings, sum->members, &names);
    text_add(&text, "the floors of %s need %s a phase all through their hours, more than %s",
             listed, AMOUNT(QUANTITY_CURRENT_MA, sum->charge / open_ms / 100 * 100),
             AMOUNT(QUANTITY_CURRENT_MA, limit->limit_ma));
    return say(reader, limit, buffer);
}

/* For each member the others whose hours lie within its own; false: it was said. */
static bool check_limit(const struct reader *reader, const struct settings *settings,
                        const struct need needs[], const struct limit *limit)
{
    for (uint16_t j = 0; limit->node && j < settings->rules.load_count; j++) {
        struct sum sum = {0};
        if (!is_member(limit, &settings->loads[j], &needs[j]))
            continue;
        for (uint16_t i = 0; i < settings->rules.load_count; i++)
            if (is_member(limit, &settings->loads[i], &needs[i]) &&
                lies_within(&needs[i].week, &needs[j].week))
                add(&sum, i, limit, &needs[i]);
        if (!judge(reader, settings, limit, &sum, (int64_t)needs[j].week.minutes * MS_PER_MIN))
            return false;
    }
    return true;
}

/* Phase by phase, until one is too small: the others are seldom different. */
static bool check_amps(const struct reader *reader, const struct settings *settings,
                       const struct need needs[], struct limit limit)
{
    bool fits = true;
    for (uint8_t phase = 0; fits && limit.limit_ma > 0 && phase < 3; phase++) {
        limit.phase = (uint8_t)(1u << phase);
        fits = check_limit(reader, settings, needs, &limit);
    }
    return fits;
}

static bool check_all(const struct reader *reader, const struct node *root,
                      const struct settings *settings, bool planned)
{
    struct need needs[SETTINGS_LOADS_MAX];
    const struct rules_settings *rules = &settings->rules;
    const struct limit supply = {.node = child_of(child_of(root, "site"), "supply_limit"),
                                 .limit_ma = rules->supply_limit_ma,
                                 .group = RULES_NO_GROUP,
                                 .planned = planned};
    for (uint16_t i = 0; i < rules->load_count; i++)
        weigh(rules, &settings->loads[i], planned, &needs[i]);
    bool fits = check_amps(reader, settings, needs, supply);
    for (uint8_t k = 0; k < rules->group_count; k++) {
        const struct node *group = child_of(child_of(root, "groups"), rules->group[k].name);
        const struct limit shared = {.node = child_of(group, "limit"),
                                     .limit_ma = rules->group[k].limit_ma,
                                     .group = k,
                                     .planned = planned};
        const struct limit turns = {
            .node = child_of(group, "one_at_a_time"), .group = k, .planned = planned};
        fits &= check_amps(reader, settings, needs, shared);
        if (rules->group[k].one_at_a_time)
            fits &= check_limit(reader, settings, needs, &turns);
    }
    return fits;
}

void floors_check_together(const struct reader *reader, const struct node *root,
                           const struct settings *settings)
{
    if (check_all(reader, root, settings, false))
        check_all(reader, root, settings, true);
}

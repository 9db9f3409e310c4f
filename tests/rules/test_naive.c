/* test_naive.c - the engine against the naive reading of TABLE.md, decision by
 * decision, over random houses and days.
 *
 * Where they differ, loads are left out one by one as long as they still differ,
 * and the shortest day that fails is printed. `test_naive SEED` runs one house
 * and tells each turn in which a decision changes. */
#include "houses.h"
#include "naive.h"

#include <check.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { HOUSES = 150, DAYS_EACH = 2, DAYS_BEFORE = 12, DAYS_AFTER = 24 };

static struct minutes calendar;

struct trial {
    struct house house;
    struct rules_memory memory;
    struct load_memory loads[HOUSE_LOADS_MAX];
    struct heat_memory heat[HOUSE_LOADS_MAX], naive_heat[HOUSE_LOADS_MAX];
    struct naive naive;
    struct decision engine[HOUSE_LOADS_MAX];
    struct naive_decision naive_says[HOUSE_LOADS_MAX];
};

/* What the houses came to, so that agreeing on nothing is not taken for agreeing. */
struct seen {
    int64_t draw[DRAW_STUCK + 1], supposed, unexplained, proven, blind, vague, alike, rested;
};

static struct seen seen;

struct difference {
    bool found;
    int64_t turn;
    int load;
    const char *what;
};

static void begin(struct trial *trial, uint64_t seed, uint8_t keep)
{
    struct house *house = &trial->house;
    house_make(house, seed, keep);
    if (seed % 2 == 0)
        house_learns(house);
    struct wall true_wall = {house->begins.mono.ms + house->true_wall_minus_mono -
                             DAYS_BEFORE * (int64_t)MS_PER_DAY};
    minutes_make(&calendar, house->zone_rule, &house->settings, true_wall,
                 DAYS_BEFORE + DAYS_EACH + DAYS_AFTER);
    rules_begin(&house->settings, &trial->memory, trial->loads, house_begins(house), seed);
    struct mono restart_at[HOUSE_LOADS_MAX];
    for (int i = 0; i < house->settings.load_count; i++)
        restart_at[i] = trial->loads[i].restart_at;
    naive_begin(&trial->naive, &house->settings, &calendar, house_begins(house), restart_at);
    for (uint16_t i = 0; i < house->settings.load_count; i++) {
        if (house->load[i].start_permille != RULES_START_LEARNT)
            continue;
        house_give_store(house, &trial->memory, i, &trial->heat[i]);
        trial->naive_heat[i] = trial->heat[i];
        naive_learns(&trial->naive, i, &trial->naive_heat[i]);
    }
}

static const char *compare_draw(const struct trial *trial, int i)
{
    const struct draw_view *engine = &trial->loads[i].draw.view;
    const struct draw_view *naive = &trial->naive.load[i].view;
    if (engine->state != naive->state)
        return "draw";
    if (engine->draw_w != naive->draw_w)
        return "power drawn";
    if (engine->power_w != naive->power_w || engine->power_measured != naive->power_measured)
        return "power when drawing";
    if (engine->unsure != naive->unsure)
        return "unsure opening";
    if (engine->state == DRAW_SEEN && engine->vague != trial->naive.load[i].vague)
        return "vague draw";
    if (engine->supposed != naive->supposed)
        return "supposed opening";
    if (engine->unexplained != naive->unexplained)
        return "draws nothing";
    if (engine->off_shown != naive->off_shown)
        return "shown off";
    if (engine->has_opened != naive->has_opened ||
        engine->opened_at.mono.ms != naive->opened_at.mono.ms)
        return "proven opening";
    if (trial->loads[i].draw.satisfied != trial->naive.load[i].satisfied)
        return "satisfied";
    for (int f = 0; f < trial->house.load[i].floor_count; f++)
        if (trial->loads[i].floor[f].met != trial->naive.load[i].floor[f].met ||
            trial->loads[i].floor[f].blind != trial->naive.load[i].floor[f].blind)
            return "floor met";
    return NULL;
}

static const char *compare(const struct trial *trial, int i)
{
    const struct decision *engine = &trial->engine[i];
    const struct naive_decision *naive = &trial->naive_says[i];
    const struct load_totals *total = &trial->loads[i].total;
    const struct load_totals *naive_total = &trial->naive.load[i].total;
    if (engine->on != naive->on)
        return "on or off";
    if (engine->basis != naive->basis)
        return "basis";
    if (engine->level_w != naive->level_w)
        return "level";
    if (engine->stage != naive->stage)
        return "stage";
    if (memcmp(total, naive_total, sizeof *total) != 0)
        return "totals";
    if (trial->loads[i].on_today_ms != trial->naive.load[i].on_today)
        return "on today";
    if (trial->loads[i].heat && trial->heat[i].worth_micro != trial->naive_heat[i].worth_micro)
        return "worth";
    return compare_draw(trial, i);
}

static void turn(struct trial *trial)
{
    struct rules_outcome outcome;
    house_step(&trial->house);
    rules_turn(&trial->house.settings, &trial->memory, &trial->house.input, trial->engine,
               &outcome);
    naive_turn(&trial->naive, &trial->house.input, trial->naive_says);
    house_obey(&trial->house, trial->engine);
}

static void tell(const struct trial *trial, int i)
{
    const struct decision *engine = &trial->engine[i];
    const struct naive_decision *naive = &trial->naive_says[i];
    const struct load_totals *a = &trial->loads[i].total, *b = &trial->naive.load[i].total;
    printf("  load %d engine: on %d basis %d %d W stage %d reason %s; satisfied %d state %d\n", i,
           engine->on, engine->basis, engine->level_w, engine->stage,
           reason_name(engine->reason.code), trial->loads[i].draw.satisfied, trial->loads[i].state);
    printf("  load %d naive:  on %d basis %d %d W stage %d; satisfied %d state %d\n", i, naive->on,
           naive->basis, naive->level_w, naive->stage, trial->naive.load[i].satisfied,
           trial->naive.load[i].state);
    for (int f = 0; f < trial->house.load[i].floor_count; f++) {
        const struct floor_memory *x = &trial->loads[i].floor[f];
        const struct naive_floor *y = &trial->naive.load[i].floor[f];
        printf("  floor %d met %d/%d blind %d/%d done %" PRId64 "/%" PRId64 " unproven %" PRId64
               "/%" PRId64 " due %d/%d\n",
               f, x->met, y->met, x->blind, y->blind, x->done, y->done, x->unproven, y->unproven,
               x->due, y->due);
    }
    const struct load_memory *e = &trial->loads[i];
    const struct naive_load *n = &trial->naive.load[i];
    int64_t t = trial->house.now.mono.ms;
    printf("  ms ago: since %" PRId64 "/%" PRId64 " enough %" PRId64 "/%" PRId64 " short %" PRId64
           "/%" PRId64 "; relief %d/%d W; draw %d %d W\n",
           t - e->since.ms, t - n->since, t - e->enough_since.ms, t - n->enough_since,
           t - e->short_since.ms, t - n->short_since, e->relief ? e->relief_w : -1,
           n->relief ? n->relief_w : -1, e->draw.view.state, e->draw.view.draw_w);
    if (memcmp(a, b, sizeof *a) != 0)
        printf("  totals: spare %" PRId64 "/%" PRId64 " grid %" PRId64 "/%" PRId64 " on %" PRId64
               "/%" PRId64 " draw %" PRId64 "/%" PRId64 " starts %" PRId64 "/%" PRId64 "\n",
               a->spare_mj, b->spare_mj, a->grid_mj, b->grid_mj, a->on_ms, b->on_ms, a->draw_ms,
               b->draw_ms, a->starts, b->starts);
}

static void count(const struct trial *trial, int i)
{
    const struct draw_view *view = &trial->loads[i].draw.view;
    seen.draw[view->state]++;
    seen.supposed += view->supposed;
    seen.vague += view->state == DRAW_SEEN && view->vague;
    seen.alike += trial->naive.load[i].alike_until > trial->naive.t;
    seen.rested += trial->loads[i].rest_again.ms > 0;
    seen.unexplained += view->unexplained;
    seen.proven += view->has_opened && view->opened_at.mono.ms > 0;
    for (int f = 0; f < trial->house.load[i].floor_count; f++)
        seen.blind += trial->loads[i].floor[f].blind;
}

static struct difference run(struct trial *trial, uint64_t seed, uint8_t keep)
{
    begin(trial, seed, keep);
    int64_t turns = DAYS_EACH * (int64_t)MS_PER_DAY / trial->house.step_ms;
    for (int64_t k = 0; k < turns; k++) {
        turn(trial);
        for (int i = 0; i < trial->house.settings.load_count; i++) {
            const char *what = compare(trial, i);
            count(trial, i);
            if (what != NULL)
                return (struct difference){true, k, i, what};
        }
    }
    return (struct difference){0};
}

/* Leaves out loads while the rest still differs. */
static uint8_t shorten(struct trial *trial, uint64_t seed)
{
    uint8_t keep = HOUSE_ALL_LOADS;
    for (int i = 0; i < HOUSE_LOADS_MAX; i++) {
        uint8_t fewer = (uint8_t)(keep & ~(1U << i));
        if (fewer != 0 && run(trial, seed, fewer).found)
            keep = fewer;
    }
    return keep;
}

static void report(struct trial *trial, uint64_t seed)
{
    uint8_t keep = shorten(trial, seed);
    struct difference d = run(trial, seed, keep);
    printf("seed %" PRIu64 " keep %02x step %" PRId64 " ms zone %s: turn %" PRId64 " load %d: %s\n",
           seed, keep, trial->house.step_ms, trial->house.zone_rule, d.turn, d.load, d.what);
    tell(trial, d.load);
}

START_TEST(test_engine_and_naive_reading_decide_alike)
{
    static struct trial trial;
    int differing = 0;
    const struct seeds seeds = houses_seeds(HOUSES);
    for (uint64_t seed = seeds.first; seed <= seeds.last; seed++) {
        if (!run(&trial, seed, HOUSE_ALL_LOADS).found)
            continue;
        differing++;
        if (differing <= 12)
            report(&trial, seed);
    }
    printf("engine against naive: %d houses, %d days, %d houses differ\n", (int)seeds.count,
           (int)seeds.count * DAYS_EACH, differing);
    printf("turns: seen %" PRId64 ", open %" PRId64 ", assumed %" PRId64 ", stuck %" PRId64
           "; vague %" PRId64 ", alike %" PRId64 ", rested %" PRId64 ", supposed %" PRId64
           ", proven %" PRId64 ", unexplained %" PRId64 ", blind %" PRId64 "\n",
           seen.draw[DRAW_SEEN], seen.draw[DRAW_OPEN], seen.draw[DRAW_ASSUMED],
           seen.draw[DRAW_STUCK], seen.vague, seen.alike, seen.rested, seen.supposed, seen.proven,
           seen.unexplained, seen.blind);
    ck_assert_int_eq(differing, 0);
    for (int state = DRAW_NONE; state <= DRAW_STUCK; state++)
        ck_assert_int_gt(seen.draw[state], 0);
    ck_assert_int_gt(seen.supposed, 0);
    ck_assert_int_gt(seen.vague, 0);
    ck_assert_int_gt(seen.alike, 0);
    ck_assert_int_gt(seen.proven, 0);
    ck_assert_int_gt(seen.unexplained, 0);
    ck_assert_int_gt(seen.blind, 0);
}
END_TEST

/* For a person who looks into a seed: what changes, turn by turn. */
static int look_into(uint64_t seed, uint8_t keep)
{
    static struct trial trial;
    struct decision before[HOUSE_LOADS_MAX] = {0};
    begin(&trial, seed, keep);
    int64_t turns = DAYS_EACH * (int64_t)MS_PER_DAY / trial.house.step_ms;
    for (int64_t k = 0; k < turns; k++) {
        turn(&trial);
        for (int i = 0; i < trial.house.settings.load_count; i++) {
            const char *what = compare(&trial, i);
            bool changed = before[i].on != trial.engine[i].on ||
                           before[i].basis != trial.engine[i].basis ||
                           before[i].level_w != trial.engine[i].level_w;
            before[i] = trial.engine[i];
            if (what == NULL && !changed)
                continue;
            printf("turn %" PRId64 " t %" PRId64 " grid %d W %s\n", k,
                   trial.house.now.mono.ms - trial.house.begins.mono.ms,
                   trial.house.reading.grid_power_w, what == NULL ? "" : what);
            tell(&trial, i);
            if (what != NULL)
                return 1;
        }
    }
    return 0;
}

int main(int argc, char **argv)
{
    if (argc > 1)
        return look_into(strtoull(argv[1], NULL, 10),
                         (uint8_t)(argc > 2 ? strtoul(argv[2], NULL, 16) : HOUSE_ALL_LOADS));
    Suite *suite = suite_create("naive");
    TCase *tcase = tcase_create("naive");
    tcase_set_timeout(tcase, 600);
    tcase_add_test(tcase, test_engine_and_naive_reading_decide_alike);
    suite_add_tcase(suite, tcase);
    SRunner *runner = srunner_create(suite);
    srunner_set_fork_status(runner, CK_NOFORK);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed == 0 ? 0 : 1;
}

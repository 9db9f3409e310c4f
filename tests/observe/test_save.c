/* test_save.c - findings go on after a restart. */
#include "observe/turns.h"

#include "terms/floor.h"

enum { NOTE_SIZE = FINDINGS_NOTE_MAX };

static struct bench bench, again;
static char of_load[NOTE_SIZE], of_site[NOTE_SIZE], second[NOTE_SIZE];

static void save(void)
{
    struct text load = text_in(of_load, NOTE_SIZE), site = text_in(of_site, NOTE_SIZE);
    findings_load_save(&bench.memory, 0, &load);
    findings_site_save(&bench.memory, &site);
    ck_assert(!load.full && !site.full);
}

static void restore(int64_t away_ms)
{
    bench_begin_new(&again);
    again.now.wall.ms = bench.now.wall.ms + away_ms;
    ck_assert(findings_load_restore(&again.memory, 0, of_load, again.now, away_ms));
    ck_assert(findings_site_restore(&again.memory, of_site, again.now, away_ms));
    memcpy(again.load, bench.load, sizeof(again.load));
    again.memory.last = again.now;
}

static void dead_for(struct bench *house, int hours)
{
    for (int k = 0; k < hours; k += 2) {
        bench_wait(house, 2 * HOUR);
        bench_step(house, EXPERIMENT_START, 0, false);
        bench_wait(house, MS_PER_MIN);
        bench_step(house, EXPERIMENT_STOP, 0, false);
    }
    bench_wait(house, MS_PER_MIN);
}

START_TEST(test_what_was_saved_is_saved_the_same_again)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    dead_for(&bench, 40);
    save();
    restore(0);
    struct text text = text_in(second, NOTE_SIZE);
    findings_load_save(&again.memory, 0, &text);
    ck_assert_str_eq(of_load, second);
    text = text_in(second, NOTE_SIZE);
    findings_site_save(&again.memory, &text);
    ck_assert_str_eq(of_site, second);
}
END_TEST

START_TEST(test_a_finding_stands_after_a_restart_with_its_age)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    dead_for(&bench, 40);
    const struct finding *before = bench_find(&bench, FINDING_NO_POWER);
    ck_assert(before);
    save();
    restore(HOUR);
    const struct finding *after = bench_find(&again, FINDING_NO_POWER);
    ck_assert_msg(after, "%s", bench_all(&again));
    ck_assert_int_eq(after->since.wall.ms, before->since.wall.ms);
    ck_assert_int_eq(again.now.mono.ms - after->since.mono.ms,
                     bench.now.mono.ms - before->since.mono.ms + HOUR);
    ck_assert_int_eq(after->seen, before->seen);
}
END_TEST

START_TEST(test_evidence_goes_on_where_it_stood)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    dead_for(&bench, 10);
    bench_nothing(&bench);
    save();
    restore(HOUR);
    bench_nothing(&again);
    dead_for(&again, 26);
    ck_assert(bench_find(&again, FINDING_NO_POWER));
}
END_TEST

static void suspect_everything(struct suspicion suspicion[], int count)
{
    for (int k = 0; k < count; k++)
        suspicion[k] = (struct suspicion){
            .sum_mn = -20000,
            .seen = UINT16_MAX,
            .stands = true,
            .since = bench.now,
            .number = {-(INT64_MAX / 4), -(INT64_MAX / 4), -(INT64_MAX / 4), -(INT64_MAX / 4)}};
}

START_TEST(test_a_note_of_all_suspicions_at_their_longest_fits)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    bench_wait(&bench, 3000ll * MS_PER_DAY);
    suspect_everything(bench.load_memory[0].suspicion, OF_LOAD_COUNT);
    suspect_everything(bench.memory.suspicion, OF_SITE_COUNT);
    for (int k = 0; k < SURVIVAL_SPELLS; k++)
        bench.load_memory[0].survival.tried_milli[k] = bench.load_memory[0].survival.open_milli[k] =
            INT32_MAX / 4;
    for (int k = 0; k < STEP_SIZES; k++)
        bench.memory.steps.seen_milli[k] = INT64_MAX / 1000000 / 8;
    save();
    restore(0);
    ck_assert_int_eq(again.load_memory[0].suspicion[OF_LOAD_COUNT - 1].number[3], -(INT64_MAX / 4));
}
END_TEST

START_TEST(test_a_damaged_note_changes_nothing)
{
    bench_begin(&bench);
    bench_days(&bench, 20);
    dead_for(&bench, 40);
    save();
    for (size_t k = 0; k < strlen(of_load); k += 7) {
        char was = of_load[k];
        of_load[k] = was == '1' ? '2' : '1';
        bench_begin_new(&again);
        ck_assert(!findings_load_restore(&again.memory, 0, of_load, again.now, 0));
        bench_nothing(&again);
        of_load[k] = was;
    }
    ck_assert(!findings_site_restore(&again.memory, "", again.now, 0));
}
END_TEST

START_TEST(test_a_guarantee_keeps_its_measure_and_an_open_element_its_kind)
{
    bench_begin(&bench);
    bench.load[0].floor_count = 1;
    bench.load[0].floor[0] = (struct findings_floor){.open = true,
                                                     .measure = FLOOR_ENERGY,
                                                     .deadline_s = 3600,
                                                     .missing = 2500000,
                                                     .needs_ms = HOUR,
                                                     .left_ms = MS_PER_MIN};
    bench.load[0].contact_known = bench.load[0].contact_closed = true;
    dead_for(&bench, 80);
    ck_assert(bench_find(&bench, FINDING_ELEMENT_OPEN));
    save();
    restore(HOUR);
    ck_assert(bench_find(&again, FINDING_ELEMENT_OPEN));
    ck_assert(!bench_find(&again, FINDING_NO_POWER));
    const struct finding *finding = bench_find(&again, FINDING_GUARANTEE_AT_RISK);
    ck_assert(finding);
    ck_assert_int_eq(finding->measure, FLOOR_ENERGY);
}
END_TEST

/* A note of before what the load last drew was kept, read a minute after a boot: the last start
 * was days before the machine's clock began. */
START_TEST(test_a_note_without_the_last_draw_stands_soon_after_a_boot)
{
    bench_begin(&bench);
    bench.load_memory[0].drew = MONO_NEVER;
    dead_for(&bench, 40);
    ck_assert(bench_find(&bench, FINDING_NO_POWER));
    bench_wait(&bench, 2 * (int64_t)MS_PER_DAY);
    save();
    ck_assert_ptr_null(strstr(of_load, "drew_ago_ms"));
    bench_begin_new(&again);
    again.now = (struct moment){{MS_PER_MIN}, bench.now.wall, true};
    again.memory.last = again.now;
    ck_assert(findings_load_restore(&again.memory, 0, of_load, again.now, 0));
    ck_assert(findings_site_restore(&again.memory, of_site, again.now, 0));
    ck_assert_int_lt(again.load_memory[0].last_try.mono.ms, -(int64_t)MS_PER_DAY);
    ck_assert_msg(bench_find(&again, FINDING_NO_POWER), "%s", bench_all(&again));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_what_was_saved_is_saved_the_same_again,
        test_a_finding_stands_after_a_restart_with_its_age,
        test_a_guarantee_keeps_its_measure_and_an_open_element_its_kind,
        test_evidence_goes_on_where_it_stood,
        test_a_note_of_all_suspicions_at_their_longest_fits,
        test_a_damaged_note_changes_nothing,
        test_a_note_without_the_last_draw_stands_soon_after_a_boot,
    };
    return suite_run("save", tests, COUNT_OF(tests));
}

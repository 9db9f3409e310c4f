/* test_crash.c - killed at any moment: what is found afterwards is one whole snapshot.
 *
 * A child commits snapshots whose counters and note all say the same number, and is
 * killed: by the clock of its own commits, or in the middle of a chosen write, of which
 * only half is done then. Afterwards all must say one number; not less than what the
 * child knew to be written, not more than it had staged, never less than before. */
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include "rig.h"

enum { COUNTERS = 12, COMMITS = 4000 };

/* Told by the child, read when it is dead. */
struct progress {
    _Atomic int64_t staged, written;
};

static struct progress *progress;

static void stage(struct ledger *ledger, int64_t number)
{
    char key[LEDGER_KEY_MAX], text[LEDGER_TEXT_MAX] = "";
    for (int k = 0; k < COUNTERS; k++) {
        snprintf(key, sizeof(key), "load-%d/on_ms", k);
        ledger_counter(ledger, key, number);
    }
    /* About as long as what the engine remembers of a load. */
    for (int k = 0; k < 80; k++)
        snprintf(text + strlen(text), sizeof(text) - strlen(text), "%08d\n", (int)number);
    ledger_note(ledger, "load/load-0", text);
    ledger_history(ledger, rig_minute(number), MS_PER_MIN, "load-0", number, 0, 0);
    snprintf(text, sizeof(text), "number %d", (int)number);
    ledger_event(ledger, rig_minute(number), "load-0", text);
}

/* `lazy`: now and then goes on without waiting, so that commits meet a busy writer. */
static void work(int64_t from, bool lazy, int commits)
{
    struct ledger *ledger = rig_open();
    for (int64_t number = from + 1; number <= from + commits; number++) {
        atomic_store(&progress->staged, number);
        stage(ledger, number);
        ledger_commit(ledger, rig_minute(number));
        if (lazy && number % 3 != 0)
            continue;
        ledger_wait(ledger);
        if (!lazy && !rig_cannot_store(ledger))
            atomic_store(&progress->written, number);
    }
    ledger_close(ledger);
    atomic_store(&progress->written, from + commits);
}

static void assert_whole(int64_t number)
{
    char expected[16], text[LEDGER_TEXT_MAX], key[LEDGER_KEY_MAX];
    struct ledger *ledger = rig_open();
    rig_assert_trouble(ledger, "");
    for (int k = 0; k < COUNTERS && number > 0; k++) {
        snprintf(key, sizeof(key), "load-%d/on_ms", k);
        ck_assert_int_eq(rig_counter(key), number);
    }
    snprintf(expected, sizeof(expected), "%08d\n", (int)number);
    ck_assert(number == 0 || ledger_note_read(ledger, "load/load-0", text));
    for (int k = 0; k < 80 && number > 0; k++)
        ck_assert_int_eq(strncmp(text + 9 * k, expected, 9), 0);
    ledger_close(ledger);
    ck_assert_int_eq(rig_ask("SELECT count(*) FROM event"), number);
    ck_assert_int_eq(rig_ask("SELECT ifnull(max(spare_mwh), 0) FROM history"), number);
}

/* What is found after a death: the number that all agree on. */
static int64_t find_number(int64_t before, uint64_t round)
{
    ledger_close(rig_open());
    int64_t number =
        rig_ask("SELECT ifnull(max(value), 0) FROM counter WHERE key = 'load-0/on_ms'");
    ck_assert_msg(number >= before, "round %d: it ran back from %d to %d", (int)round, (int)before,
                  (int)number);
    ck_assert_msg(number >= atomic_load(&progress->written),
                  "round %d: %d was written, %d is there", (int)round,
                  (int)atomic_load(&progress->written), (int)number);
    ck_assert_int_le(number, atomic_load(&progress->staged));
    assert_whole(number);
    return number;
}

static void begin(void)
{
    progress =
        mmap(NULL, sizeof(*progress), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    ck_assert_ptr_ne(progress, MAP_FAILED);
    ledger_close(rig_open());
}

START_TEST(test_killed_between_any_two_instructions)
{
    uint64_t seed = 20260302;
    int64_t number = 0, rounds = 0;
    begin();
    for (uint64_t round = 0; round < 60; round += cases_step(), rounds++) {
        int64_t until = number + seeded_between(&seed, 1, 40);
        atomic_store(&progress->staged, number);
        pid_t child = fork();
        ck_assert_int_ge(child, 0);
        if (child == 0) {
            work(number, round % 2, COMMITS);
            _exit(EXIT_SUCCESS);
        }
        while (atomic_load(&progress->staged) < until && waitpid(child, NULL, WNOHANG) == 0)
            ;
        kill(child, SIGKILL);
        waitpid(child, NULL, 0);
        number = find_number(number, round);
    }
    ck_assert_int_gt(number, rounds);
}
END_TEST

/* True: it died; false: it had fewer writes to make. */
static bool die_at_write(int64_t number, int64_t write, int commits)
{
    int status;
    atomic_store(&progress->staged, number);
    pid_t child = fork();
    ck_assert_int_ge(child, 0);
    if (child == 0) {
        rig_die_at_write(write);
        work(number, false, commits);
        _exit(EXIT_SUCCESS);
    }
    ck_assert_int_eq(waitpid(child, &status, 0), child);
    return WIFSIGNALED(status);
}

START_TEST(test_killed_in_the_middle_of_each_write_of_the_first_commits)
{
    int64_t number = 0, write = 1;
    begin();
    while (die_at_write(number, write, 3))
        number = find_number(number, (uint64_t)write++);
    ck_assert_int_gt(write, 40);
}
END_TEST

/* Long enough that the log is written back into the file, and begun again. */
START_TEST(test_killed_in_the_middle_of_any_write_of_a_long_run)
{
    uint64_t seed = 1;
    int64_t number = 0;
    begin();
    int64_t rounds = 0;
    for (uint64_t round = 0; round < 60; round += cases_step(), rounds++) {
        ck_assert(die_at_write(number, seeded_between(&seed, 1, 6000), COMMITS));
        number = find_number(number, round);
    }
    ck_assert_int_gt(number, 100 * rounds);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_killed_between_any_two_instructions,
        test_killed_in_the_middle_of_each_write_of_the_first_commits,
        test_killed_in_the_middle_of_any_write_of_a_long_run,
    };
    return rig_run("crash", tests, COUNT_OF(tests));
}

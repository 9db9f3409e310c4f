/* test_clock.c - the granted clock obeys its line protocol; the system clock
 * wakes when asked. The .c is included to reach what decides about trust. */
#include "loop/clock.c"

#include <check.h>
#include <poll.h>
#include <sys/stat.h>

/* The simulator's end of a granted clock. */
struct simulator {
    char folder[64], path[96];
    int listener, peer;
    struct clock *clock;
};

static struct simulator simulator_begin(void)
{
    struct simulator sim = {.folder = "/tmp/sluice-clock-XXXXXX"};
    ck_assert_ptr_nonnull(mkdtemp(sim.folder));
    snprintf(sim.path, sizeof sim.path, "%s/grants", sim.folder);
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    snprintf(address.sun_path, sizeof address.sun_path, "%s", sim.path);
    sim.listener = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    ck_assert_int_eq(bind(sim.listener, (struct sockaddr *)&address, sizeof address), 0);
    ck_assert_int_eq(listen(sim.listener, 1), 0);
    struct trouble trouble;
    sim.clock = clock_granted(sim.path, &trouble);
    ck_assert_ptr_nonnull(sim.clock);
    sim.peer = accept(sim.listener, NULL, NULL);
    ck_assert_int_ge(sim.peer, 0);
    return sim;
}

static void simulator_say(const struct simulator *sim, const char *text)
{
    ck_assert_int_eq(write(sim->peer, text, strlen(text)), (ssize_t)strlen(text));
}

static void simulator_end(struct simulator *sim)
{
    clock_free(sim->clock);
    if (sim->peer >= 0) {
        close(sim->peer);
    }
    close(sim->listener);
    unlink(sim->path);
    rmdir(sim->folder);
}

static bool fd_readable(int fd)
{
    struct pollfd poller = {.fd = fd, .events = POLLIN};
    return poll(&poller, 1, 0) == 1;
}

START_TEST(test_a_grant_is_the_moment_until_the_next_one)
{
    struct simulator sim = simulator_begin();
    struct moment now;
    bool ended;
    ck_assert(clock_is_granted(sim.clock));
    ck_assert(!fd_readable(clock_fd(sim.clock)));
    simulator_say(&sim, "grant 1000 1767225600000 1\n");
    ck_assert(fd_readable(clock_fd(sim.clock)));
    ck_assert(clock_take(sim.clock, &now, &ended));
    ck_assert_int_eq(now.mono.ms, 1000);
    ck_assert_int_eq(now.wall.ms, 1767225600000);
    ck_assert(now.wall_trusted);
    ck_assert(!clock_take(sim.clock, &now, &ended)); /* woken by something else */
    ck_assert(!ended);
    ck_assert_int_eq(now.mono.ms, 1000);
    clock_done(sim.clock);
    char answer[16] = "";
    ck_assert_int_eq(read(sim.peer, answer, sizeof answer - 1), 5);
    ck_assert_str_eq(answer, "done\n");
    simulator_end(&sim);
}
END_TEST

START_TEST(test_grants_are_taken_one_at_a_time_however_they_arrive)
{
    struct simulator sim = simulator_begin();
    struct moment now;
    bool ended;
    simulator_say(&sim, "gra");
    ck_assert(!clock_take(sim.clock, &now, &ended));
    ck_assert(!ended);
    simulator_say(&sim, "nt 5 -7 0\ngrant 6 8 1\n");
    ck_assert(clock_take(sim.clock, &now, &ended));
    ck_assert_int_eq(now.mono.ms, 5);
    ck_assert_int_eq(now.wall.ms, -7);
    ck_assert(!now.wall_trusted);
    ck_assert(fd_readable(clock_fd(sim.clock))); /* level-triggered: one more to come */
    ck_assert(clock_take(sim.clock, &now, &ended));
    ck_assert_int_eq(now.mono.ms, 6);
    simulator_end(&sim);
}
END_TEST

START_TEST(test_simulator_that_goes_ends_the_daemon)
{
    struct simulator sim = simulator_begin();
    struct moment now;
    bool ended;
    simulator_say(&sim, "grant 5 6 1\n");
    close(sim.peer);
    sim.peer = -1;
    ck_assert(clock_take(sim.clock, &now, &ended));
    ck_assert(!ended);
    ck_assert(!clock_take(sim.clock, &now, &ended));
    ck_assert(ended);
    ck_assert_int_eq(now.mono.ms, 5); /* the last moment stands for the fail state */
    simulator_end(&sim);
}
END_TEST

START_TEST(test_what_is_no_grant_ends_the_daemon)
{
    static const char *const bad[] = {"grant 5 6\n",    "grant 5 6 1 9\n", "hello\n",
                                      "grant -1 6 1\n", "grant x 6 1\n",   "\n"};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct simulator sim = simulator_begin();
        struct moment now;
        bool ended;
        simulator_say(&sim, bad[i]);
        ck_assert_msg(!clock_take(sim.clock, &now, &ended), "%s", bad[i]);
        ck_assert_msg(ended, "%s", bad[i]);
        simulator_end(&sim);
    }
}
END_TEST

START_TEST(test_endless_line_is_no_simulator)
{
    struct simulator sim = simulator_begin();
    struct moment now;
    bool ended = false;
    char much[200];
    memset(much, 'g', sizeof much - 1);
    much[sizeof much - 1] = '\0';
    simulator_say(&sim, much);
    clock_take(sim.clock, &now, &ended);
    ck_assert(ended);
    simulator_end(&sim);
}
END_TEST

START_TEST(test_missing_simulator_is_named)
{
    struct trouble trouble;
    ck_assert_ptr_null(clock_granted("/nonexistent/grants", &trouble));
    ck_assert_str_eq(trouble.place, "/nonexistent/grants");
}
END_TEST

START_TEST(test_system_clock_wakes_at_the_moment_asked_for)
{
    struct trouble trouble;
    struct clock *clock = clock_system(&trouble);
    ck_assert_ptr_nonnull(clock);
    struct moment before, after;
    bool ended;
    ck_assert(clock_take(clock, &before, &ended));
    ck_assert(!ended);
    clock_wake_at(clock, mono_after(before.mono, 20));
    struct pollfd poller = {.fd = clock_fd(clock), .events = POLLIN};
    ck_assert_int_eq(poll(&poller, 1, -1), 1);
    ck_assert(clock_take(clock, &after, &ended));
    ck_assert_int_ge(mono_since_ms(after.mono, before.mono), 20);
    ck_assert(!fd_readable(clock_fd(clock))); /* taken is lowered */
    clock_wake_at(clock, (struct mono){0});   /* long past: at once */
    ck_assert_int_eq(poll(&poller, 1, -1), 1);
    clock_wake_at(clock, MONO_NEVER);
    clock_take(clock, &after, &ended);
    ck_assert(!fd_readable(clock_fd(clock)));
    clock_free(clock);
}
END_TEST

/* Documentation/ABI/testing/sysfs-class-rtc: "1" if the system time was set
 * from this clock at boot. */
START_TEST(test_battery_clock_is_one_the_kernel_took_its_time_from)
{
    char folder[] = "/tmp/sluice-rtc-XXXXXX";
    ck_assert_ptr_nonnull(mkdtemp(folder));
    char path[64];
    snprintf(path, sizeof path, "%s/hctosys", folder);
    ck_assert(!set_from_battery_clock(path));
    static const char *const says[] = {"0\n", "1\n"};
    for (int i = 0; i < 2; i++) {
        FILE *file = fopen(path, "w");
        ck_assert_ptr_nonnull(file);
        fputs(says[i], file);
        fclose(file);
        ck_assert_int_eq(set_from_battery_clock(path), i == 1);
    }
    unlink(path);
    rmdir(folder);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("clock");
    tcase_add_test(cases, test_a_grant_is_the_moment_until_the_next_one);
    tcase_add_test(cases, test_grants_are_taken_one_at_a_time_however_they_arrive);
    tcase_add_test(cases, test_simulator_that_goes_ends_the_daemon);
    tcase_add_test(cases, test_what_is_no_grant_ends_the_daemon);
    tcase_add_test(cases, test_endless_line_is_no_simulator);
    tcase_add_test(cases, test_missing_simulator_is_named);
    tcase_add_test(cases, test_system_clock_wakes_at_the_moment_asked_for);
    tcase_add_test(cases, test_battery_clock_is_one_the_kernel_took_its_time_from);
    Suite *suite = suite_create("clock");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}

/* simhouse - a house behind real Modbus, for a day of a scenario.
 *
 * One step is: events, registers, a granted moment in which a daemon polls and
 * switches, then the house goes on by the step. With --clock the day runs as
 * fast as the daemon answers and comes out the same each time; without, a second
 * takes a second. Exit status: 0 every "must" held, 1 one did not, 2 usage or a
 * mistake in the scenario, 3 the daemon or a command failed. */
#include <errno.h>
#include <getopt.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "grant.h"
#include "must.h"
#include "report.h"
#include "server.h"

enum { EXIT_MUST = 1, EXIT_USAGE = 2, EXIT_BROKEN = 3 };
enum { PATIENCE_MS = 20000, LEAVING_MS = 10000 };

/* The machine of the daemon has been up for a minute when the day begins. */
#define FIRST_MONO_MS 60000

struct simulation {
    struct scenario scenario;
    struct world world;
    struct units units;
    struct musts musts;
    struct report report;
    struct server *server;
    struct grant *grant; /* NULL: real time */
    int64_t wall_shift_ms;
    bool trusted;
    int next_event;
    const char *path;
};

struct options {
    const char *scenario, *clock, *log, *pty;
    int tcp_port; /* -1: no TCP */
};

static int64_t real_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static int sooner(int a, int b)
{
    return a < 0 ? b : b < 0 || a < b ? a : b;
}

/* Serves Modbus until `fd` (-1: none) is readable or until_ms of real time has
 * come (-1: never). True: fd is readable. */
static bool serve_until(struct simulation *sim, int fd, int64_t until_ms)
{
    for (;;) {
        struct pollfd fds[SERVER_FDS_MAX + 1];
        int count = server_fds(sim->server, fds);
        fds[count] = (struct pollfd){.fd = fd, .events = POLLIN};
        int64_t left = until_ms < 0 ? -1 : until_ms - real_ms();
        if (until_ms >= 0 && left <= 0)
            return false;
        int wait = sooner(server_wait_ms(sim->server), (int)left);
        if (poll(fds, (nfds_t)count + 1, wait) < 0 && errno != EINTR)
            return false;
        bool ready = fds[count].revents != 0;
        server_serve(sim->server, fds, count);
        if (ready)
            return true;
    }
}

static bool wait_for_daemon(struct simulation *sim)
{
    if (grant_connected(sim->grant))
        return true;
    if (!serve_until(sim, grant_fd(sim->grant), real_ms() + PATIENCE_MS)) {
        fprintf(stderr, "simhouse: no daemon has come to the clock within %d s\n",
                PATIENCE_MS / 1000);
        return false;
    }
    grant_accept(sim->grant);
    return grant_connected(sim->grant);
}

static struct moment moment_now(const struct simulation *sim)
{
    return (struct moment){
        .mono = {FIRST_MONO_MS + sim->world.elapsed_ms},
        .wall = {world_wall(&sim->world).ms + sim->wall_shift_ms},
        .wall_trusted = sim->trusted,
    };
}

/* One moment, to a daemon that may be restarted meanwhile: the next one gets the
 * same moment. */
static bool grant_moment(struct simulation *sim)
{
    for (;;) {
        if (!wait_for_daemon(sim))
            return false;
        if (!grant_send(sim->grant, moment_now(sim)))
            continue;
        enum grant_news news;
        do {
            if (!serve_until(sim, grant_fd(sim->grant), real_ms() + PATIENCE_MS)) {
                fprintf(stderr, "simhouse: the daemon's turn takes more than %d s\n",
                        PATIENCE_MS / 1000);
                return false;
            }
            news = grant_hear(sim->grant);
        } while (news == GRANT_NOTHING);
        if (news == GRANT_DONE)
            return true;
    }
}

/* The command's own output goes to standard error: standard output is ours. */
static bool run_command(struct simulation *sim, const struct event *event)
{
    fflush(NULL);
    pid_t child = fork();
    if (child < 0)
        return false;
    if (child == 0) {
        dup2(STDERR_FILENO, STDOUT_FILENO);
        execl("/bin/sh", "sh", "-c", event->command, (char *)NULL);
        _exit(127);
    }
    int status = -1;
    int fd = pidfd_open(child, 0);
    bool ended = serve_until(sim, fd, real_ms() + PATIENCE_MS);
    if (!ended)
        kill(child, SIGKILL);
    waitpid(child, &status, 0);
    close(fd);
    if (ended && WIFEXITED(status) && WEXITSTATUS(status) == 0)
        return true;
    fprintf(stderr, "%s:%d: run %s: %s %d\n", sim->path, event->line, event->command,
            WIFEXITED(status) ? "exit status" : "ended by signal",
            WIFEXITED(status) ? WEXITSTATUS(status) : WTERMSIG(status));
    return false;
}

/* The faults of one event among those that are in force. */
static void change_meter(struct grid_meter_faults *faults, const struct grid_meter_faults *these,
                         bool begins)
{
    uint8_t *const in_force[] = {&faults->reversed, &faults->exchanged, &faults->crossed};
    const uint8_t told[] = {these->reversed, these->exchanged, these->crossed};
    for (int i = 0; i < 3; i++)
        *in_force[i] = (uint8_t)(begins ? *in_force[i] | told[i] : *in_force[i] & ~told[i]);
}

static bool break_unit(struct simulation *sim, const struct event *event)
{
    struct unit *unit = units_find(&sim->units, event->unit);
    bool of_other = event->fault == WIRE_OTHER_UNIT;
    struct unit *other = of_other ? units_find(&sim->units, (uint8_t)event->amount) : NULL;
    if (!unit || (of_other && !other)) {
        fprintf(stderr, "%s:%d: there is no unit %d\n", sim->path, event->line,
                unit ? (int)event->amount : event->unit);
        return false;
    }
    unit->fault = event->fault;
    unit->fault_amount = event->amount;
    unit->other = other;
    return true;
}

static bool happen(struct simulation *sim, const struct event *event)
{
    switch (event->kind) {
    case EVENT_UNIT_FAULT:
        return break_unit(sim, event);
    case EVENT_METER_FAULT:
    case EVENT_METER_MENDED:
        change_meter(&sim->world.meter.faults, &event->meter_fault,
                     event->kind == EVENT_METER_FAULT);
        return true;
    case EVENT_LOAD_FAULT:
        house_fault_begin(&sim->world.load[event->load], &event->load_fault);
        return true;
    case EVENT_LOAD_MENDED:
        house_fault_end(&sim->world.load[event->load], &event->load_fault);
        return true;
    case EVENT_LOAD_REPAIRED:
        house_fault_repair(&sim->world.load[event->load]);
        return true;
    case EVENT_BUTTON:
    case EVENT_LET_GO:
        sim->units.pressed[event->input] = event->amount != 0;
        return true;
    case EVENT_TURN:
        sim->world.load[event->load].hand = (enum hand_switch)event->amount;
        return true;
    case EVENT_BUS_GONE:
    case EVENT_BUS_BACK:
        server_cable(sim->server, event->kind == EVENT_BUS_BACK);
        return true;
    case EVENT_CLOCK_STEP:
        sim->wall_shift_ms += event->amount;
        return true;
    case EVENT_CLOCK_TRUST:
        sim->trusted = event->amount != 0;
        return true;
    case EVENT_CLOCK_RIGHT:
        sim->wall_shift_ms = 0;
        sim->trusted = true;
        return true;
    case EVENT_RUN:
        return run_command(sim, event);
    }
    return false;
}

static bool happen_what_is_due(struct simulation *sim)
{
    while (sim->next_event < sim->scenario.event_count &&
           sim->scenario.event[sim->next_event].at_ms <= sim->world.elapsed_ms)
        if (!happen(sim, &sim->scenario.event[sim->next_event++]))
            return false;
    return true;
}

/* Lets the daemon go; what it switches on its way out is seen. */
static void see_off(struct simulation *sim)
{
    int64_t until_ms = real_ms() + LEAVING_MS;
    grant_close(sim->grant);
    while (grant_connected(sim->grant) && serve_until(sim, grant_fd(sim->grant), until_ms))
        grant_hear(sim->grant);
    if (grant_connected(sim->grant))
        fprintf(stderr, "simhouse: the daemon has not ended within %d s\n", LEAVING_MS / 1000);
    units_obey(&sim->units, &sim->world);
    world_step(&sim->world, sim->scenario.step_ms);
    musts_after_exit(&sim->musts, &sim->world);
}

static bool run_day(struct simulation *sim)
{
    int64_t real_start_ms = real_ms();
    while (sim->world.elapsed_ms < sim->scenario.length_ms) {
        if (!happen_what_is_due(sim))
            return false;
        units_show(&sim->units, &sim->world);
        if (!sim->grant)
            serve_until(sim, -1, real_start_ms + sim->world.elapsed_ms + sim->scenario.step_ms);
        else if (!grant_moment(sim))
            return false;
        units_obey(&sim->units, &sim->world);
        world_step(&sim->world, sim->scenario.step_ms);
        musts_step(&sim->musts, &sim->world);
        report_step(&sim->report, &sim->world);
    }
    return true;
}

static int run(struct simulation *sim)
{
    if (!run_day(sim))
        return EXIT_BROKEN;
    musts_end(&sim->musts, &sim->world);
    report_summary(&sim->report, &sim->world, stdout);
    if (sim->grant)
        see_off(sim);
    int broken = musts_report(&sim->musts, sim->path, stderr);
    printf("musts %d\nbroken %d\n", sim->scenario.must_count, broken);
    return broken ? EXIT_MUST : EXIT_SUCCESS;
}

static bool open_lines(struct simulation *sim, const struct options *options)
{
    if (options->tcp_port >= 0) {
        int port = server_open_tcp(sim->server, options->tcp_port);
        if (port < 0) {
            fprintf(stderr, "simhouse: TCP port %d: %m\n", options->tcp_port);
            return false;
        }
        printf("ready tcp %d\n", port);
    }
    if (options->pty) {
        if (!server_open_pty(sim->server, options->pty)) {
            fprintf(stderr, "simhouse: %s: %m\n", options->pty);
            return false;
        }
        printf("ready pty %s\n", options->pty);
    }
    if (options->clock && !(sim->grant = grant_new(options->clock))) {
        fprintf(stderr, "simhouse: %s: %m\n", options->clock);
        return false;
    }
    if (options->clock)
        printf("ready clock %s\n", options->clock);
    fflush(stdout);
    return true;
}

static int simulate(struct simulation *sim, const struct options *options)
{
    FILE *log = options->log ? fopen(options->log, "we") : NULL;
    if (options->log && !log) {
        fprintf(stderr, "simhouse: %s: %m\n", options->log);
        return EXIT_USAGE;
    }
    sim->path = options->scenario;
    sim->trusted = !sim->scenario.clock_untrusted;
    if (sim->scenario.clock_1970)
        sim->wall_shift_ms = -sim->scenario.house.start.ms;
    world_init(&sim->world, &sim->scenario.house);
    musts_init(&sim->musts, &sim->scenario);
    report_init(&sim->report, &sim->scenario, log);
    int status = EXIT_USAGE;
    if (units_init(&sim->units, &sim->scenario) &&
        (sim->server = server_new(&sim->units, sim->scenario.seed)) && open_lines(sim, options))
        status = run(sim);
    grant_free(sim->grant);
    server_free(sim->server);
    units_free(&sim->units);
    if (log)
        fclose(log);
    return status;
}

static void usage(FILE *to)
{
    fprintf(to, "usage: simhouse --scenario FILE [--tcp PORT] [--pty LINK] [--clock SOCKET] "
                "[--log FILE.csv]\n"
                "       simhouse --scenario FILE --check\n"
                "  --tcp 0 lets the system pick; \"ready tcp PORT\" tells\n");
}

int main(int argc, char *argv[])
{
    static const struct option longs[] = {
        {"scenario", required_argument, NULL, 's'}, {"tcp", required_argument, NULL, 't'},
        {"pty", required_argument, NULL, 'p'},      {"clock", required_argument, NULL, 'c'},
        {"log", required_argument, NULL, 'l'},      {"check", no_argument, NULL, 'k'},
        {"help", no_argument, NULL, 'h'},           {NULL, 0, NULL, 0},
    };
    struct options options = {.tcp_port = -1};
    bool check = false;
    for (int c; (c = getopt_long(argc, argv, "", longs, NULL)) != -1;) {
        switch (c) {
        case 's':
            options.scenario = optarg;
            break;
        case 't':
            options.tcp_port = atoi(optarg);
            break;
        case 'p':
            options.pty = optarg;
            break;
        case 'c':
            options.clock = optarg;
            break;
        case 'l':
            options.log = optarg;
            break;
        case 'k':
            check = true;
            break;
        case 'h':
            usage(stdout);
            return EXIT_SUCCESS;
        default:
            usage(stderr);
            return EXIT_USAGE;
        }
    }
    if (!options.scenario || optind < argc) {
        usage(stderr);
        return EXIT_USAGE;
    }
    static struct simulation sim;
    if (!scenario_read(&sim.scenario, options.scenario, stderr))
        return EXIT_USAGE;
    return check ? EXIT_SUCCESS : simulate(&sim, &options);
}

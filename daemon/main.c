/* main.c - sluiced: reads its arguments and its settings, and runs the site. */
#include <getopt.h>
#include <malloc.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>

#include "accepted.h"
#include "fail_state.h"
#include "loop.h"
#include "loop/log.h"
#include "settings_file.h"
#include "start.h"
#include "troubles.h"

static const char usage[] =
    "sluiced - switches loads on when the meter shows spare power\n"
    "\n"
    "  sluiced [--settings FILE] [--maps DIR] [--state DIR] [--log LEVEL]\n"
    "  sluiced --fail-state [--for TIME] [--settings FILE]\n"
    "                   bring every output to its fail state, and end\n"
    "\n"
    "  --settings FILE  default /etc/sluice/sluice.yaml\n"
    "  --maps DIR       register maps; default: the folder meters beside the settings\n"
    "  --state DIR      where the last accepted settings are kept for the next start;\n"
    "                   default: what the service manager gives, else they are not\n"
    "  --for TIME       with --fail-state: how long to try where an output does not confirm\n"
    "                   (default 25 s)\n"
    "  --log LEVEL      error, warning, notice, info (default) or debug\n"
    "  --clock SOCKET   time comes from a simulator, moment by moment\n"
    "  --version, --help\n"
    "\n"
    "It ends with status 78 where the settings are refused and none were accepted before.\n"
    "\n"
    "An output that is off, or inhibited, is not isolated: isolate all supplies and\n"
    "prove dead before opening anything.\n";

/* EX_CONFIG of sysexits.h, which the unit does not start again: the file stays as it is. */
enum { EXIT_REFUSED = 78 };

/* Bytes of data: several times what a full house needs, and well below MemoryMax. */
enum { DATA_MOST = 40 * 1024 * 1024, MMAP_FROM = 128 * 1024 };

struct arguments {
    struct settings_place place;
    const char *clock;
    bool fail_state;
    int64_t fail_state_ms;
};

static bool set_level(const char *word)
{
    static const char *const words[] = {[LOG_LEVEL_ERROR] = "error",
                                        [LOG_LEVEL_WARNING] = "warning",
                                        [LOG_LEVEL_NOTICE] = "notice",
                                        [LOG_LEVEL_INFO] = "info",
                                        [LOG_LEVEL_DEBUG] = "debug"};
    for (int level = LOG_LEVEL_ERROR; level <= LOG_LEVEL_DEBUG; level++)
        if (strcmp(words[level], word) == 0) {
            log_set_level((enum log_level)level);
            return true;
        }
    fprintf(stderr, "sluiced: \"%s\" is not a log level: error, warning, notice, info or debug\n",
            word);
    return false;
}

static bool set_time(const char *text, int64_t *time_ms)
{
    struct trouble trouble = {.text = "at most an hour"};
    if (quantity_parse(QUANTITY_DURATION_MS, text, time_ms, &trouble) && *time_ms <= MS_PER_HOUR)
        return true;
    fprintf(stderr, "sluiced: --for %s: %s\n", text, trouble.text);
    return false;
}

/* -1: go on; else the exit status. */
static int parse(int argc, char **argv, struct arguments *arguments)
{
    static const struct option options[] = {
        {"settings", required_argument, NULL, 's'}, {"maps", required_argument, NULL, 'm'},
        {"state", required_argument, NULL, 'd'},    {"clock", required_argument, NULL, 'c'},
        {"log", required_argument, NULL, 'l'},      {"fail-state", no_argument, NULL, 'f'},
        {"for", required_argument, NULL, 't'},      {"version", no_argument, NULL, 'v'},
        {"help", no_argument, NULL, 'h'},           {NULL, 0, NULL, 0}};
    int option;
    while ((option = getopt_long(argc, argv, "", options, NULL)) != -1) {
        switch (option) {
        case 's':
            arguments->place.file = optarg;
            break;
        case 'm':
            arguments->place.maps = optarg;
            break;
        case 'd':
            arguments->place.state_dir = optarg;
            break;
        case 'c':
            arguments->clock = optarg;
            break;
        case 'l':
            if (!set_level(optarg))
                return EXIT_FAILURE;
            break;
        case 'f':
            arguments->fail_state = true;
            break;
        case 't':
            if (!set_time(optarg, &arguments->fail_state_ms))
                return EXIT_FAILURE;
            break;
        case 'v':
            puts("sluiced " SLUICE_VERSION);
            return EXIT_SUCCESS;
        case 'h':
            fputs(usage, stdout);
            return EXIT_SUCCESS;
        default:
            fputs("sluiced: see sluiced --help\n", stderr);
            return EXIT_FAILURE;
        }
    }
    if (optind == argc)
        return -1;
    fprintf(stderr, "sluiced: \"%s\" was not expected; see sluiced --help\n", argv[optind]);
    return EXIT_FAILURE;
}

/* Before any thread begins, so that all of them leave the signals to the loop. */
static void block_signals(void)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGHUP);
    sigprocmask(SIG_BLOCK, &set, NULL);
    signal(SIGPIPE, SIG_IGN);
}

/* The unit's MemoryMax kills; this only lets an allocation fail. Whatever a broker sends,
 * its connection ends and not the process. Sanitizers want the memory for themselves. */
static void bound_memory(void)
{
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
    struct rlimit limit;
    mallopt(M_MMAP_THRESHOLD, MMAP_FROM); /* fixed: what was large goes back when it is freed */
    if (getrlimit(RLIMIT_DATA, &limit) < 0 || limit.rlim_cur < DATA_MOST)
        return;
    limit.rlim_cur = DATA_MOST;
    setrlimit(RLIMIT_DATA, &limit);
#endif
}

/* The granted clock's first moment comes when the simulator gives it. */
static bool first_moment(struct clock *clock, struct moment *now)
{
    bool ended = false;
    while (!clock_take(clock, now, &ended) && !ended) {
        struct pollfd granted = {.fd = clock_fd(clock), .events = POLLIN};
        poll(&granted, 1, -1);
    }
    return !ended;
}

/* systemd.exec(5): several are parted by colons; the unit has one. */
static const char *given_state_dir(void)
{
    const char *given = getenv("STATE_DIRECTORY");
    return given && given[0] == '/' && !strchr(given, ':') ? given : NULL;
}

static void place_files(struct files *files, const struct settings_place *place)
{
    snprintf(files->settings_path, sizeof(files->settings_path), "%s", place->file);
    snprintf(files->maps_dir, sizeof(files->maps_dir), "%s", place->maps ? place->maps : "");
    snprintf(files->state_dir, sizeof(files->state_dir), "%s",
             place->state_dir ? place->state_dir : "");
}

/* What was chosen is in force: it is kept, or it is told that it is not the file at hand. */
static void settle(struct files *files, struct common *common, const struct settings_choice *choice)
{
    files->accepted.in_force = choice->last_accepted;
    files->accepted.at = choice->at;
    if (choice->last_accepted)
        site_trouble(common, "settings", "the last accepted settings are in force: %s",
                     choice->refusal);
    else
        accepted_keep(files, common);
    settings_tell_secrets(common);
}

static int run_site(struct site *site, const struct arguments *arguments)
{
    struct settings_choice choice;
    struct trouble trouble = {.text = ""};
    int status = -1;
    settings_choose(&arguments->place, &choice);
    if (!choice.settings)
        return EXIT_REFUSED;
    place_files(&site->files, &arguments->place);
    site->socket.fd = -1;
    site->clock =
        arguments->clock ? clock_granted(arguments->clock, &trouble) : clock_system(&trouble);
    if (site->clock && first_moment(site->clock, &site->common.now) &&
        site_start(site, choice.settings, &trouble)) {
        settle(&site->files, &site->common, &choice);
        status = site_run(site);
    } else {
        log_line(LOG_LEVEL_ERROR, "%s%s%s", trouble.place, trouble.place[0] ? ": " : "",
                 trouble.text);
    }
    site_stop(site);
    clock_free(site->clock);
    return status < 0 ? EXIT_FAILURE : status;
}

static int run_fail_state(const struct arguments *arguments)
{
    struct settings_choice choice;
    settings_choose_last(&arguments->place, &choice);
    if (!choice.settings)
        return EXIT_REFUSED;
    return fail_state_run(choice.settings, arguments->fail_state_ms);
}

int main(int argc, char **argv)
{
    static struct site site; /* too large for a stack */
    struct arguments arguments = {.place = {.file = "/etc/sluice/sluice.yaml"},
                                  .fail_state_ms = FAIL_STATE_TIME_MS};
    int status = parse(argc, argv, &arguments);
    if (status >= 0)
        return status;
    if (!arguments.place.state_dir)
        arguments.place.state_dir = given_state_dir();
    block_signals();
    bound_memory();
    return arguments.fail_state ? run_fail_state(&arguments) : run_site(&site, &arguments);
}

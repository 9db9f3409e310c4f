/* main.c - `sluice`: what a person or a script asks of the daemon and its files.
 *
 * The whole command is a table of sub-commands. A new one is a file and a row. */
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "help.h"
#include "options.h"
#include "sluice/bus/bus.h"
#include "sluice/bus/meter.h"
#include "sluice/change/change.h"
#include "sluice/commission/commission.h"
#include "sluice/handover/handover.h"
#include "sluice/live/test.h"
#include "sluice/quote/compare.h"
#include "sluice/quote/data.h"
#include "sluice/quote/replay.h"
#include "sluice/watch/watch.h"

#define SOCKET_DEFAULT "/run/sluice/control"

static enum status help_main(struct invocation *at, int argc, char *argv[]);
static enum status version_main(struct invocation *at, int argc, char *argv[]);

static const char faults_help[] =
    "Each fault: what shows it, how sure that is, since when, how often it was seen,\n"
    "and what to do first. What is inferred is always \"possible\".\n"
    "\n"
    "  --days N         also those of the last N days that are over, from the ledger\n"
    "  --ledger FILE    another ledger than the settings name\n"
    "  --settings FILE  default /etc/sluice/sluice.yaml\n"
    "  --json           for scripts: \"findings\" now, and \"past\"\n"
    "\n"
    "Where sluiced does not answer it says so and shows the last 7 days (or N) from\n"
    "the ledger.\n"
    "\n"
    "Exit status: 0 nothing wrong is known, 1 something is wrong now, 2 wrong usage,\n"
    "3 sluiced does not answer.\n";

static const struct subcommand subcommands[] = {
    {"status", "[--json]", "One screen: spare power, each load and why, floors, meters, troubles.",
     status_main, NULL},
    {"watch", "[--settings FILE] [--maps DIR]",
     "The same live, with today's runs, and keys for on, off and auto.", watch_main, watch_help},
    {"faults", "[--days N] [--json] [--ledger FILE] [--settings FILE]",
     "What is wrong, how sure that is, and what to do first.", faults_main, faults_help},
    {"on", "LOAD DURATION | LOAD until TIME", "Runs a load now, for a time.", order_main, NULL},
    {"off", "LOAD [DURATION | until TIME]", "Keeps a load off, for a time or with no end time.",
     order_main, NULL},
    {"auto", "LOAD", "Cancels on and off: back to automatic.", order_main, NULL},
    {"test", "LOAD | --all [--no-wait] [--json]",
     "Switches a load and says what it draws, or what to measure first.", test_main, test_help},
    {"holiday", "until DATE TIME | end",
     "Everything off while you are away, hot again when you return.", holiday_main, NULL},
    {"inhibit", "LOAD | all", "Blocks a load: nothing starts it. This is not isolation.",
     inhibit_main, NULL},
    {"allow", "LOAD | all", "Ends an inhibit.", inhibit_main, NULL},
    {"enable", "LOAD", "Turns automatic running of a load back on.", enable_main, NULL},
    {"disable", "LOAD", "Turns automatic running off: the load runs only when ordered.",
     enable_main, NULL},
    {"exchange", "METER [end]",
     "Before a meter is replaced: the new one counts anew. end: it is not.", exchange_main, NULL},
    {"set", "KEY VALUE [--try] [--settings FILE] [--maps DIR]",
     "Changes one setting, comments and layout kept, and puts it in force.", set_main, set_help},
    {"undo", "[--try] [--settings FILE] [--maps DIR]", "Takes the last \"set\" back.", undo_main,
     undo_help},
    {"diff", "[NUMBER] [--settings FILE] [--maps DIR]",
     "How the settings file differs from the accepted, or an earlier, one.", diff_main, diff_help},
    {"history", "[--settings FILE]", "Who changed which setting, and when.", history_main,
     history_help},
    {"reload", "[--yes]", "Reads the settings file again; one with errors changes nothing.",
     reload_main, NULL},
    {"topics", "", "Lists what is published on MQTT, and what can be ordered there.", topics_main,
     NULL},
    {"day", "[DATE] [--svg FILE] [--reasons] [--ledger FILE] [--settings FILE]",
     "One day hour by hour: power, loads, reasons; --svg draws it.", day_main, NULL},
    {"data", "FILE... [--out FILE] [--html FILE] [--timezone ZONE] [...]",
     "Shows what is understood of a customer's interval data.", data_main, data_help},
    {"replay", "SETTINGS DAYS... [options]", "What each load would have done on recorded days.",
     replay_main, replay_help},
    {"compare", "SETTINGS DAYS... [--tune] [--html FILE] [--seeds N] [...]",
     "Prices each way to heat water on recorded days: which to buy.", compare_main, compare_help},
    {"check", "FILE [--maps DIR]", "Checks a settings file and says what each load will do.",
     check_main, NULL},
    {"bus", "listen PORT [--baud N] [--for TIME] [...] | scan PORT [...]",
     "Shows the traffic on a serial line or finds its meters. Never writes.", bus_main, bus_help},
    {"meter", "maps | check MAP | read METER [...] | read --map MAP [...]",
     "Lists or checks register maps; reads a meter. Never writes.", meter_main, meter_help},
    {"explain", "[KEY]", "What a setting does, its unit, range and default.", explain_main, NULL},
    {"example", "", "Prints a complete settings file with comments.", example_main, NULL},
    {"commission", "[--new] [--yes] [--again STEP] [--record FILE] [...]",
     "Tests meter, phases and outputs step by step; ends with a record.", commission_main,
     commission_help},
    {"handover", "[--out FILE | DIR] [--text] [...]",
     "Pages for the household and the switchboard, with the settings.", handover_main,
     handover_help},
    {"backup", "FILE [--with-secrets] [...]",
     "Settings, counters, learning and orders in one file; sluiced may run.", backup_main,
     backup_help},
    {"restore", "FILE [...]", "Puts a backup in place on this board; what is replaced is kept.",
     restore_main, restore_help},
    {"version", "", "Prints the version.", version_main, NULL},
    {"help", "[COMMAND]", "All commands, or how one is used.", help_main, NULL},
    {0},
};

static enum status help_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words > 1)
        return complain_usage(at, "help");
    if (words == 1)
        return help_one(at, argv[1]);
    help_all(at);
    return STATUS_DONE;
}

static enum status version_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    printf("sluice %s\n", SLUICE_VERSION);
    return STATUS_DONE;
}

static const char *socket_path(void)
{
    const char *path = getenv("SLUICE_SOCKET");
    return path && *path ? path : SOCKET_DEFAULT;
}

static bool wants_colour(void)
{
    const char *no = getenv("NO_COLOR"); /* no-color.org: set and not empty means none */
    return isatty(STDOUT_FILENO) && !(no && *no);
}

/* What was printed must have arrived: a full disk behind "> file" is an error. */
static enum status flushed(enum status status)
{
    if (fflush(stdout) == 0 && !ferror(stdout))
        return status;
    return complain(STATUS_NOT_THERE, "standard output cannot be written: %m");
}

int main(int argc, char *argv[])
{
    struct invocation at = {
        .socket = socket_path(), .colour = wants_colour(), .commands = subcommands};
    int first = options_before_command(&at, argc, argv);
    if (first < 0)
        return STATUS_USAGE;
    if (first == argc) {
        help_list(&at, stderr);
        return STATUS_USAGE;
    }
    const struct subcommand *row = subcommand_find(&at, argv[first]);
    if (!row)
        return (int)complain_unknown_command(&at, argv[first]);
    return (int)flushed(row->run(&at, argc - first, argv + first));
}

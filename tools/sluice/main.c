/* main.c - `sluice`: what a person or a script asks of the daemon and its files.
 *
 * The whole command is a table of sub-commands. A new one is a file and a row. */
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "core/text.h"
#include "options.h"
#include "subcommand.h"

#define SOCKET_DEFAULT "/run/sluice/control"

const struct subcommand subcommands[] = {
    {"status", "[--json]", "One screen: spare power, each load and why, floors, meters, troubles.",
     status_main},
    {"on", "LOAD DURATION | LOAD until TIME", "Runs a load now, for a time.", order_main},
    {"off", "LOAD [DURATION | until TIME]", "Keeps a load off, for a time or with no end time.",
     order_main},
    {"auto", "LOAD", "Cancels on and off: back to automatic.", order_main},
    {"holiday", "until DATE TIME | end",
     "Everything off while you are away, hot again when you return.", holiday_main},
    {"inhibit", "LOAD | all", "Blocks a load: nothing starts it. This is not isolation.",
     inhibit_main},
    {"allow", "LOAD | all", "Ends an inhibit.", inhibit_main},
    {"enable", "LOAD", "Turns automatic running of a load back on.", enable_main},
    {"disable", "LOAD", "Turns automatic running off: the load runs only when ordered.",
     enable_main},
    {"reload", "[--yes]", "Reads the settings file again; one with errors changes nothing.",
     reload_main},
    {"topics", "", "Lists what is published on MQTT, and what can be ordered there.", topics_main},
    {"day", "[DATE] [--svg FILE] [--reasons] [--ledger FILE] [--settings FILE]",
     "One day hour by hour: power, loads, reasons; --svg draws it.", day_main},
    {"replay", "SETTINGS DAYS [options]", "What each load would have done on recorded days.",
     replay_main},
    {"compare", "SETTINGS DAYS [--tune] [--html FILE] [--seeds N] [...]",
     "Prices each way to heat water on recorded days: which to buy.", compare_main},
    {"check", "FILE [--maps DIR]", "Checks a settings file and says what each load will do.",
     check_main},
    {"bus", "listen PORT [--baud N] [--for TIME] [...] | scan PORT [...]",
     "Shows the traffic on a serial line or finds its meters. Never writes.", bus_main},
    {"meter", "maps | check MAP | read METER [...] | read --map MAP [...]",
     "Lists or checks register maps; reads a meter. Never writes.", meter_main},
    {"explain", "[KEY]", "What a setting does, its unit, range and default.", explain_main},
    {"example", "", "Prints a complete settings file with comments.", example_main},
    {"version", "", "Prints the version.", version_main},
    {"help", "[COMMAND]", "All commands, or how one is used.", help_main},
};
const size_t subcommand_count = sizeof(subcommands) / sizeof(subcommands[0]);

static const struct subcommand *find(const char *name)
{
    for (size_t k = 0; k < subcommand_count; k++)
        if (strcmp(subcommands[k].name, name) == 0)
            return &subcommands[k];
    return NULL;
}

enum status complain(enum status status, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    fputs("sluice: ", stderr);
    vfprintf(stderr, format, arguments);
    fputc('\n', stderr);
    va_end(arguments);
    return status;
}

enum status complain_usage(const char *name)
{
    const struct subcommand *row = find(name);
    return complain(STATUS_USAGE, "usage: sluice %s %s", name, row ? row->usage : "");
}

static enum status complain_unknown(const char *word)
{
    const char *names[sizeof(subcommands) / sizeof(subcommands[0])];
    for (size_t k = 0; k < subcommand_count; k++)
        names[k] = subcommands[k].name;
    const char *nearest = text_nearest(word, names, subcommand_count);
    if (nearest)
        return complain(STATUS_USAGE,
                        "\"%s\" is not a command; do you mean \"%s\"? "
                        "(\"sluice help\" lists them)",
                        word, nearest);
    return complain(STATUS_USAGE, "\"%s\" is not a command; \"sluice help\" lists them", word);
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
    struct invocation at = {.socket = socket_path(), .colour = wants_colour()};
    int first = options_before_command(&at, argc, argv);
    if (first < 0)
        return STATUS_USAGE;
    if (first == argc) {
        help_list(stderr);
        return STATUS_USAGE;
    }
    const struct subcommand *row = find(argv[first]);
    if (!row)
        return (int)complain_unknown(argv[first]);
    return (int)flushed(row->run(&at, argc - first, argv + first));
}

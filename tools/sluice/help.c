/* help.c - the table of sub-commands, as text. */
#include <stdio.h>
#include <string.h>

#include "core/text.h"
#include "options.h"
#include "sluice/bus/bus.h"
#include "sluice/bus/meter.h"
#include "sluice/quote/compare.h"
#include "sluice/quote/replay.h"

static const char tail[] =
    "\n"
    "LOAD is a load's name in the settings file; \"sluice status\" has it in brackets.\n"
    "DURATION: 2h, 2 h, 90min, \"2 h 30 min\". TIME: 17:00 (the next), or DATE TIME.\n"
    "DATE: 2026-01-14; for \"day\" also today, yesterday.\n"
    "\n"
    "Options of all commands:\n"
    "  --socket PATH   the daemon's control socket; default: $SLUICE_SOCKET, then\n"
    "                  /run/sluice/control\n"
    "  --help          how the command is used\n"
    "\n"
    "Exit status:\n"
    "  0  done\n"
    "  1  refused: the daemon refused the order; the settings file or the table of\n"
    "     days has errors; there is no such setting; nothing is recorded for that day\n"
    "  2  error in the command line\n"
    "  3  the daemon does not answer; a file cannot be read or written\n"
    "\n"
    "Off, inhibit and holiday are not isolation. Before opening anything, isolate all\n"
    "supplies and prove dead. A load may start remotely and without warning.\n";

static void print_all(void)
{
    puts("sluice - loads on spare solar power: what the daemon does, and orders to it\n");
    for (size_t k = 0; k < subcommand_count; k++) {
        const struct subcommand *row = &subcommands[k];
        printf("  sluice %s %s\n      %s\n", row->name, row->usage, row->text);
    }
    fputs(tail, stdout);
}

void help_list(FILE *to)
{
    fputs("usage: sluice COMMAND ...\n\n", to);
    for (size_t k = 0; k < subcommand_count; k++)
        fprintf(to, "  %-8s %s\n", subcommands[k].name, subcommands[k].text);
    fputs("\n\"sluice help COMMAND\" shows how one is used; \"sluice help\" shows all.\n", to);
}

/* Commands with more to say than a line. */
static const struct {
    const char *name, *text;
} long_texts[] = {
    {"bus", bus_help},
    {"compare", compare_help},
    {"meter", meter_help},
    {"replay", replay_help},
};

static void print_long(const char *name)
{
    for (size_t k = 0; k < sizeof(long_texts) / sizeof(long_texts[0]); k++)
        if (strcmp(long_texts[k].name, name) == 0)
            printf("\n%s", long_texts[k].text);
}

enum status help_one(const char *name)
{
    const char *names[32];
    for (size_t k = 0; k < subcommand_count; k++) {
        const struct subcommand *row = &subcommands[k];
        names[k] = row->name;
        if (strcmp(row->name, name) != 0)
            continue;
        printf("sluice %s %s\n%s\n", row->name, row->usage, row->text);
        print_long(name);
        return STATUS_DONE;
    }
    const char *nearest = text_nearest(name, names, subcommand_count);
    return complain(STATUS_USAGE, "\"%s\" is not a command%s%s%s", name,
                    nearest ? "; do you mean \"" : "", nearest ? nearest : "",
                    nearest ? "\"?" : "");
}

enum status help_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words > 1)
        return complain_usage("help");
    if (words == 1)
        return help_one(argv[1]);
    print_all();
    return STATUS_DONE;
}

enum status version_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    printf("sluice %s\n", SLUICE_VERSION);
    return STATUS_DONE;
}

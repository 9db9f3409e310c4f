/* help.c - the table of sub-commands, as text. */
#include "help.h"

#include <stdio.h>

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

void help_all(const struct invocation *at)
{
    puts("sluice - loads on spare solar power: what the daemon does, and orders to it\n");
    for (const struct subcommand *row = at->commands; row->name; row++)
        printf("  sluice %s %s\n      %s\n", row->name, row->usage, row->text);
    fputs(tail, stdout);
}

void help_list(const struct invocation *at, FILE *to)
{
    fputs("usage: sluice COMMAND ...\n\n", to);
    for (const struct subcommand *row = at->commands; row->name; row++)
        fprintf(to, "  %-8s %s\n", row->name, row->text);
    fputs("\n\"sluice help COMMAND\" shows how one is used; \"sluice help\" shows all.\n", to);
}

enum status help_one(const struct invocation *at, const char *name)
{
    const struct subcommand *row = subcommand_find(at, name);
    if (!row)
        return complain_unknown_command(at, name);
    printf("sluice %s %s\n%s\n", row->name, row->usage, row->text);
    if (row->more)
        printf("\n%s", row->more);
    return STATUS_DONE;
}

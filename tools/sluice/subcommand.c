/* subcommand.c - the table of sub-commands as it was handed over, and what a command complains
 * of: no file below main.c needs the table itself. */
#include "subcommand.h"

#include <stdarg.h>
#include <string.h>

#include "core/text.h"

const struct subcommand *subcommand_find(const struct invocation *at, const char *name)
{
    for (const struct subcommand *row = at->commands; row->name; row++)
        if (strcmp(row->name, name) == 0)
            return row;
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

enum status complain_usage(const struct invocation *at, const char *name)
{
    const struct subcommand *row = subcommand_find(at, name);
    return complain(STATUS_USAGE, "usage: sluice %s %s", name, row ? row->usage : "");
}

enum status complain_unknown_command(const struct invocation *at, const char *name)
{
    enum { NAMES_MAX = 64 };
    const char *names[NAMES_MAX];
    size_t count = 0;
    for (const struct subcommand *row = at->commands; row->name && count < NAMES_MAX; row++)
        names[count++] = row->name;
    const char *nearest = text_nearest(name, names, count);
    if (nearest)
        return complain(STATUS_USAGE,
                        "\"%s\" is not a command; do you mean \"%s\"? "
                        "(\"sluice help\" lists them)",
                        name, nearest);
    return complain(STATUS_USAGE, "\"%s\" is not a command; \"sluice help\" lists them", name);
}

/* explain.c - what a setting does, from the same rows that the parser uses. */
#include <stdio.h>

#include "options.h"
#include "settings/settings.h"

int explain_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words > 1)
        return complain_usage("explain");
    return settings_explain(words == 1 ? argv[1] : "", stdout) ? STATUS_DONE : STATUS_REFUSED;
}

/* example.c - a whole settings file, commented, to begin from. */
#include <stdio.h>

#include "quote/quote.h"
#include "settings/settings.h"
#include "sluice/options.h"

enum status example_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage("example");
    settings_example(&quote_section, stdout);
    return STATUS_DONE;
}

/* holiday.c - everything off while the household is away, hot again on return. */
#include <stdio.h>
#include <string.h>

#include "control.h"
#include "core/text.h"
#include "sluice/options.h"

enum status holiday_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    char request[120];
    struct text text = text_in(request, sizeof(request));
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    bool end = words == 1 && strcmp(argv[1], "end") == 0;
    bool until = words >= 2 && strcmp(argv[1], "until") == 0;
    if (words == 1 && !end)
        complain(STATUS_USAGE,
                 "\"%s\" is not a holiday: \"until 2026-01-20 17:00\" or \"end\" is "
                 "expected",
                 argv[1]);
    if (!end && !until)
        return complain_usage(at, "holiday");
    text_add(&text, "holiday");
    for (int k = 1; k <= words; k++) {
        if (strpbrk(argv[k], "\r\n"))
            return complain(STATUS_USAGE, "\"%s\" is not a date or a time", argv[k]);
        text_add(&text, " %s", argv[k]);
    }
    if (text.full)
        return complain(STATUS_USAGE, "\"%.40s...\" is too long for a date and a time", argv[2]);
    return control_order(at, request);
}

/* exchange.c - said before a meter is replaced: what the new one's registers show at first is
 * nobody's energy. */
#include <string.h>

#include "control.h"
#include "core/text.h"
#include "sluice/options.h"

enum status exchange_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    char request[120];
    struct text text = text_in(request, sizeof(request));
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    bool ends = words == 2 && strcmp(argv[2], "end") == 0;
    if (words != 1 && !ends)
        return complain_usage(at, argv[0]);
    if (!control_word_ok(argv[1], "a meter's name"))
        return STATUS_USAGE;
    text_add(&text, "exchange %s%s", argv[1], ends ? " end" : "");
    if (text.full)
        return complain(STATUS_USAGE, "\"%.40s...\" is too long for a meter's name", argv[1]);
    return control_order(at, request);
}

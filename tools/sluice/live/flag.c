/* flag.c - orders of one load and one yes or no: `inhibit` keeps a load off whatever else and
 * `allow` ends that; `disable` turns its automatic running off and `enable` on again. */
#include <string.h>

#include "control.h"
#include "core/text.h"
#include "sluice/options.h"

static enum status order_flag(struct invocation *at, int argc, char *argv[], const char *verb,
                              const char *what)
{
    const struct option_row rows[] = {{0}};
    char request[120];
    struct text text = text_in(request, sizeof(request));
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage(at, argv[0]);
    if (!control_word_ok(argv[1], what))
        return STATUS_USAGE;
    text_add(&text, "%s %s %s", verb, argv[1], strcmp(argv[0], verb) == 0 ? "yes" : "no");
    if (text.full)
        return complain(STATUS_USAGE, "\"%.40s...\" is too long for a load's name", argv[1]);
    return control_order(at, request);
}

enum status enable_main(struct invocation *at, int argc, char *argv[])
{
    return order_flag(at, argc, argv, "enable", "a load's name");
}

enum status inhibit_main(struct invocation *at, int argc, char *argv[])
{
    return order_flag(at, argc, argv, "inhibit", "a load's name, or \"all\"");
}

/* order.c - `on`, `off`, `auto`: a person's order to one load.
 *
 * The daemon is the judge of orders, with its own clock and zone. Only what is
 * wrong whatever the time is said here: a missing end, a duration that is none. */
#include <stdio.h>
#include <string.h>

#include "control.h"
#include "core/quantity.h"
#include "sluice/options.h"

/* "2" "h" "30" "min" -> "2 h 30 min" */
static bool join(char *words[], int count, struct text *text)
{
    for (int k = 0; k < count; k++) {
        for (const char *c = words[k]; *c; c++)
            if ((unsigned char)*c < ' ') {
                complain(STATUS_USAGE, "\"%s\" has a control character in it", words[k]);
                return false;
            }
        text_add(text, k ? " %s" : "%s", words[k]);
    }
    if (text->full)
        complain(STATUS_USAGE, "\"%.40s...\" is too long: a time or a duration is expected",
                 count ? words[0] : "");
    return !text->full;
}

static bool is_end(const char *end)
{
    struct trouble trouble;
    int64_t value;
    if (strncmp(end, "until ", 6) == 0)
        return true;
    if (strcmp(end, "until") == 0) {
        complain(STATUS_USAGE, "\"until\" needs a time after it, such as 17:00 or "
                               "2026-01-20 17:00");
        return false;
    }
    if (quantity_parse(QUANTITY_DURATION_MS, end, &value, &trouble))
        return true;
    complain(STATUS_USAGE, "%s; or \"until 17:00\"", trouble.text);
    return false;
}

static enum status send_order(const struct invocation *at, const char *load, const char *verb,
                              const char *end)
{
    char request[200];
    struct text text = text_in(request, sizeof(request));
    text_add(&text, "order %s %s", load, verb);
    if (*end)
        text_add(&text, " %s", end);
    if (text.full)
        return complain(STATUS_USAGE, "\"%.40s\" is too long for a load's name", load);
    enum status status = control_order(at, request);
    if (status == STATUS_DONE && strcmp(verb, "off") == 0)
        puts("Off is not isolation: isolate all supplies and prove dead before opening.");
    return status;
}

enum status order_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    const char *verb = argv[0];
    char buffer[80];
    struct text end = text_in(buffer, sizeof(buffer));
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words == 0 || (words > 1 && strcmp(verb, "auto") == 0))
        return complain_usage(at, verb);
    if (words == 1 && strcmp(verb, "on") == 0)
        return complain(STATUS_USAGE,
                        "\"on %s\" needs an end: a duration, such as \"sluice on %s 2h\", or a "
                        "time, such as \"sluice on %s until 17:00\"",
                        argv[1], argv[1], argv[1]);
    if (!control_word_ok(argv[1], "a load's name") || !join(argv + 2, words - 1, &end) ||
        (words > 1 && !is_end(buffer)))
        return STATUS_USAGE;
    return send_order(at, argv[1], verb, buffer);
}

/* backend_log.c - an output that only writes into the log what it would switch. */
#include "loop/log.h"
#include "output/backend.h"

struct BACKEND_OWN log_settings {
    char label[32];
};

static const struct setting_row rows[] = {
    {.key = "label",
     .kind = SETTING_TEXT,
     BACKEND_OWN_AT(struct log_settings, label),
     .initial = "load",
     .text = "What the log calls it."},
};
static const struct setting_rows own_rows = SETTING_ROWS(rows);

static const char *label(const struct output_settings *settings)
{
    return ((const struct log_settings *)(const void *)settings->own)->label;
}

static void name(const struct output_settings *settings, uint8_t contactor, struct text *name)
{
    (void)contactor;
    text_add(name, "log %s", label(settings));
}

static void describe(const struct output_settings *settings, struct text *text)
{
    text_add(text, "lines in the log, as %s", label(settings));
}

static void mind(const struct output_settings *settings, backend_say *say, void *context)
{
    (void)settings;
    say(context, "", "it is only logged: nothing is switched.");
}

static bool same_place(const struct output_settings *a, const struct output_settings *b)
{
    (void)a, (void)b;
    return false;
}

static enum backend_result set(const struct backend_call *call, int32_t value,
                               struct trouble *trouble)
{
    (void)trouble;
    log_line(LOG_LEVEL_NOTICE, "%s: %s", label(call->settings), value ? "on" : "off");
    return BACKEND_DONE;
}

const struct backend backend_log = {.word = "log",
                                    .text = "lines in the log; nothing is switched",
                                    .rows = {&own_rows},
                                    .name = name,
                                    .describe = describe,
                                    .mind = mind,
                                    .same_place = same_place,
                                    .set = set};

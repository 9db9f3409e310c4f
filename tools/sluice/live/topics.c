/* topics.c - what the daemon publishes on MQTT, from the rows that it publishes by: in columns
 * on a terminal, else as a table in Markdown, for documents. */
#include <unistd.h>

#include "sluice/options.h"
#include "sluice/page/page.h"
#include "sluice/subcommand.h"
#include "values/values.h"

static void print_row(void *context, const char *topic, const char *what, const char *payload)
{
    (void)context;
    printf("| `%s` | %s | %s |\n", topic, what, payload);
}

/* The topic, and beside it what it is and, below, the payload. */
static void print_columns(void *context, const char *topic, const char *what, const char *payload)
{
    struct page *page = context;
    int at = page->width / 2;
    page_put(page, topic);
    page_to(page, at);
    page_wrap(page, at, what);
    page_to(page, at);
    page_wrap(page, at, payload);
}

static void print_topics(void)
{
    struct page page = {.width = page_terminal_width()};
    if (isatty(STDOUT_FILENO)) {
        values_list_topics(print_columns, &page);
        return;
    }
    fputs("| topic | what it is | payload |\n|---|---|---|\n", stdout);
    values_list_topics(print_row, NULL);
}

enum status topics_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "topics");
    print_topics();
    return STATUS_DONE;
}

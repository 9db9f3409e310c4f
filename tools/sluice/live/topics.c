/* topics.c - what the daemon publishes on MQTT, from the rows that it publishes by. */
#include "sluice/options.h"
#include "sluice/subcommand.h"
#include "values/values.h"

enum status topics_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "topics");
    values_print_topics(stdout);
    return STATUS_DONE;
}

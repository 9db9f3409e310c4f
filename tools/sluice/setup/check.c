/* check.c - a settings file, judged without a daemon: every mistake with its place,
 * or in plain sentences what each load will do. */
#include <stdio.h>

#include "read_settings.h"
#include "sluice/options.h"

enum status check_main(struct invocation *at, int argc, char *argv[])
{
    const char *maps = NULL;
    const struct option_row rows[] = {{"--maps", &maps, NULL, "the folder of the meter maps"}, {0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage("check");
    enum status status;
    struct settings *settings = read_settings(argv[1], maps, NULL, &status);
    if (settings)
        settings_describe(settings, stdout);
    settings_free(settings);
    return status;
}

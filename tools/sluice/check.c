/* check.c - a settings file, judged without a daemon: every mistake with its place,
 * or in plain sentences what each load will do. */
#include <stdio.h>
#include <string.h>

#include "options.h"
#include "settings/settings.h"

static int report(const char *path, const struct settings_troubles *troubles)
{
    for (int k = 0; k < troubles->count; k++) {
        const struct trouble *trouble = &troubles->item[k];
        fprintf(stderr, "%s: %s\n", trouble->place[0] ? trouble->place : path, trouble->text);
    }
    fprintf(stderr, "%s: %d mistake%s; nothing of it would be used\n", path, troubles->count,
            troubles->count == 1 ? "" : "s");
    return STATUS_REFUSED;
}

int check_main(struct invocation *at, int argc, char *argv[])
{
    const char *maps = NULL;
    const struct option_row rows[] = {{"--maps", &maps, NULL, "the folder of the meter maps"}, {0}};
    struct settings_troubles troubles = {0};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage("check");
    FILE *file = fopen(argv[1], "re");
    if (!file)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be read: %m; a settings file is expected",
                        argv[1]);
    fclose(file);
    struct settings *settings = settings_load(argv[1], maps, &troubles);
    int status = settings ? STATUS_DONE : report(argv[1], &troubles);
    if (settings)
        settings_describe(settings, stdout);
    settings_free(settings);
    settings_troubles_free(&troubles);
    return status;
}

/* setup.c - settings without a daemon: a file checked, a setting explained, an example to
 * begin from. */
#include <stdio.h>
#include <stdlib.h>

#include "quote/quote.h"
#include "read_settings.h"
#include "settings/settings.h"
#include "sluice/options.h"

/* ---- check: every error with its place, or in plain sentences what each load will do ----------
 */

enum status check_main(struct invocation *at, int argc, char *argv[])
{
    const char *maps = NULL;
    const struct option_row rows[] = {{"--maps", &maps, NULL, "the folder of the meter maps"}, {0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 1)
        return complain_usage(at, "check");
    enum status status;
    struct settings *settings = read_settings(argv[1], maps, NULL, &status);
    if (settings)
        settings_describe(settings, stdout);
    settings_free(settings);
    return status;
}

/* ---- explain: from the same rows that the parser uses -----------------------------------------
 */

/* The text comes first, and then whether there is such a key: which of the two
 * outputs it belongs to is only known afterwards. */
static enum status explain(const char *key)
{
    char *said = NULL;
    size_t length = 0;
    FILE *to = open_memstream(&said, &length);
    if (!to)
        return complain(STATUS_NOT_THERE, "no memory");
    bool known = settings_explain(key, &quote_section, to);
    fclose(to);
    if (!known)
        fputs("sluice: ", stderr);
    fputs(said ? said : "", known ? stdout : stderr);
    free(said);
    return known ? STATUS_DONE : STATUS_REFUSED;
}

enum status explain_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words > 1)
        return complain_usage(at, "explain");
    return explain(words == 1 ? argv[1] : "");
}

/* ---- example ----------------------------------------------------------------------------------
 */

enum status example_main(struct invocation *at, int argc, char *argv[])
{
    const struct option_row rows[] = {{0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "example");
    settings_example(&quote_section, stdout);
    return STATUS_DONE;
}

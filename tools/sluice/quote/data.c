/* data.c - a customer's interval data, shown as they were understood: `sluice data`. Needs no
 * daemon, and no settings. */
#include "data.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "data_heater.h"
#include "data_preview.h"
#include "replay_days.h"
#include "settings/zone_file.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"
#include "sluice/whole_file.h"

enum { OWN_ROWS = 5, ZONE_SIZE = 256 };

const char data_help[] =
    "FILE is interval data as NEM12 or Green Button (ESPI), or a table as for\n"
    "\"sluice replay\", whose options for columns and times hold here too (\"sluice\n"
    "help replay\"); several files are read as one. Shows what was understood: columns\n"
    "and streams, span, a day's energy, the largest half hours, the mean day of each\n"
    "season, and what looks wrong.\n"
    "  --import E1       of several streams, those that are the household's (\"E1+E2\":\n"
    "                    their sum); a water heater's own register is then left out\n"
    "  --meter NAME      which connection point (NMI), where a file has several\n"
    "  --ignore NAME     a column or stream that is of no concern\n"
    "  --out FILE        the days as a table that \"replay\" and \"compare\" read\n"
    "  --html FILE       the same as a page with pictures\n"
    "  --timezone ZONE   of the household, such as Australia/Sydney (default: that\n"
    "                    of this machine)\n"
    "  --settings FILE   takes timezone and size of the array from there\n"
    "  --maps DIR        where the settings' meter maps are\n"
    "  --heater-in-data \"22:00-06:00 3.6 kW\"   takes out a water heater that is in\n"
    "                    the household's use at these hours; replay and compare do\n"
    "                    the same\n";

struct wish {
    const char *out, *html, *timezone, *settings, *maps;
    struct days_words days;
};

struct work {
    const struct wish *wish;
    char zone_name[ZONE_SIZE];
    struct zone zone;
    struct data_loaded loaded;
    struct data_preview preview;
};

/* ---- the zone ------------------------------------------------------------------------------ */

static enum status zone_of_settings(struct work *work)
{
    enum status status;
    struct quote_settings quote;
    struct settings *settings =
        read_settings(work->wish->settings, work->wish->maps, &quote, &status);
    if (!settings)
        return status;
    struct text text = text_in(work->zone_name, sizeof(work->zone_name));
    text_add(&text, "%s", settings->timezone);
    work->zone = settings->rules.zone;
    work->loaded.array_kwp = quote.array_w / 1000.0;
    settings_free(settings);
    return STATUS_DONE;
}

static enum status find_zone(struct work *work)
{
    const char *name = work->wish->timezone;
    struct trouble trouble;
    char link[ZONE_SIZE] = "";
    bool odd;
    if (name && work->wish->settings)
        return complain(STATUS_USAGE, "--timezone or --settings, not both");
    if (work->wish->settings)
        return zone_of_settings(work);
    if (!name && readlink("/etc/localtime", link, sizeof(link) - 1) > 0 &&
        strstr(link, "zoneinfo/"))
        name = strstr(link, "zoneinfo/") + strlen("zoneinfo/");
    if (!name)
        return complain(STATUS_USAGE, "this machine has no timezone: --timezone is expected, such "
                                      "as Australia/Sydney");
    struct text text = text_in(work->zone_name, sizeof(work->zone_name));
    text_add(&text, "%s", name);
    return zone_by_name(name, &work->zone, &odd, &trouble)
               ? STATUS_DONE
               : complain(STATUS_USAGE, "timezone \"%s\": %s", name, trouble.text);
}

/* ---- showing -------------------------------------------------------------------------------- */

static void write_page(const void *context, FILE *to)
{
    data_write_page(context, to);
}

static void write_table(const void *context, FILE *to)
{
    const struct data_preview *preview = context;
    data_write_table(&preview->loaded->days, preview->loaded->zone, to);
}

static enum status show(const struct work *work, bool read)
{
    const struct wish *wish = work->wish;
    enum status status = STATUS_DONE;
    data_print(&work->preview);
    if (wish->html)
        status = whole_file(wish->html, write_page, &work->preview);
    if (wish->html && status == STATUS_DONE)
        printf("\npage: %s\n", wish->html);
    if (status != STATUS_DONE || !read || !wish->out)
        return status;
    status = whole_file(wish->out, write_table, &work->preview);
    if (status == STATUS_DONE)
        printf("\ntable: %s\n", wish->out);
    return status;
}

static enum status do_all(struct work *work)
{
    struct data_preview *preview = &work->preview;
    enum status status = find_zone(work);
    if (status == STATUS_DONE)
        status = days_load(&work->wish->days, &work->loaded);
    if (status != STATUS_DONE && status != STATUS_REFUSED)
        return status;
    if (!data_preview_make(preview, &work->loaded))
        return complain(STATUS_NOT_THERE, "no memory");
    preview->zone_name = work->zone_name;
    enum status shown = show(work, status == STATUS_DONE);
    if (status == STATUS_DONE)
        return shown;
    fflush(stdout);
    days_tell_stops(&work->loaded.report);
    return complain(status, "these days cannot be used");
}

/* ---- the command ----------------------------------------------------------------------------- */

enum status data_main(struct invocation *at, int argc, char *argv[])
{
    struct wish wish = {0};
    struct option_row rows[OWN_ROWS + DAYS_OPTION_ROWS + 1] = {
        {"--out", &wish.out, NULL, "the table's file"},
        {"--html", &wish.html, NULL, "the page's file"},
        {"--timezone", &wish.timezone, NULL, "a timezone, such as Australia/Sydney"},
        {"--settings", &wish.settings, NULL, "a settings file"},
        {"--maps", &wish.maps, NULL, "the folder of the meter maps"},
    };
    days_option_rows(&wish.days, rows + OWN_ROWS);
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words < 1)
        return complain_usage(at, "data");
    enum status may = whole_file_may(wish.html);
    if (may == STATUS_DONE)
        may = whole_file_may(wish.out);
    struct work *work = may == STATUS_DONE ? calloc(1, sizeof(*work)) : NULL;
    if (!work)
        return may == STATUS_DONE ? complain(STATUS_NOT_THERE, "no memory") : may;
    work->wish = &wish;
    work->loaded = (struct data_loaded){
        .paths = (const char *const *)argv + 1, .path_count = words, .zone = &work->zone};
    enum status status = do_all(work);
    data_preview_free(&work->preview);
    days_free(&work->loaded.days);
    free(work);
    return status;
}

/* handover.c - `sluice handover`: what stays in the house when the electrician has gone. */
#include "handover.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "sheets.h"
#include "sluice/options.h"
#include "sluice/setup/read_settings.h"
#include "sluice/whole_file.h"

const char handover_help[] =
    "  A page for the household, a page for the switchboard and the settings as they\n"
    "  are, from the settings alone; what they do not state is said to be not stated.\n"
    "  Where sluiced answers, what it has measured stands on the second. HTML for A4\n"
    "  that needs no other file.\n"
    "    --out FILE        one file; a folder: household, switchboard and settings as\n"
    "                      files of their own; default: standard output\n"
    "    --text            Markdown, without the diagram\n"
    "    --settings FILE   /etc/sluice/sluice.yaml\n"
    "    --maps DIR        the folder of the meter maps; default: meters, beside the\n"
    "                      settings\n";

typedef void write_sheet(const struct house *house, struct paper *paper);

static const struct sheet {
    const char *name;
    write_sheet *write;
} sheets[] = {
    {"household", household_write}, {"switchboard", switchboard_write}, {"settings", as_set_write}};
enum { SHEETS = sizeof(sheets) / sizeof(sheets[0]) };

/* Which of the sheets go into one file. */
struct job {
    const struct house *house;
    int first, count;
    bool plain;
};

static void write_job(const void *context, FILE *to)
{
    const struct job *job = context;
    struct paper paper = {.to = to, .plain = job->plain};
    paper_begin(&paper, job->house->settings->site_name);
    for (int k = job->first; k < job->first + job->count; k++)
        sheets[k].write(job->house, &paper);
    paper_end(&paper);
}

static bool is_folder(const char *path)
{
    struct stat found;
    return stat(path, &found) == 0 && S_ISDIR(found.st_mode);
}

static enum status write_folder(const char *folder, struct job job)
{
    enum status status = STATUS_DONE;
    for (int k = 0; k < SHEETS && status == STATUS_DONE; k++) {
        char path[4096];
        struct text text = text_in(path, sizeof(path));
        text_add(&text, "%s/%s.%s", folder, sheets[k].name, job.plain ? "md" : "html");
        if (text.full)
            return complain(STATUS_USAGE, "\"%.60s...\" is too long for a file's name", folder);
        job.first = k;
        job.count = 1;
        status = whole_file(path, write_job, &job);
        if (status == STATUS_DONE)
            printf("%s\n", path);
    }
    return status;
}

static enum status write_out(const char *out, const struct job *job)
{
    size_t length = out ? strlen(out) : 0;
    if (!out) {
        write_job(job, stdout);
        return STATUS_DONE;
    }
    if (is_folder(out))
        return write_folder(out, *job);
    if (length > 0 && out[length - 1] == '/')
        return complain(STATUS_NOT_THERE, "\"%s\": there is no such folder", out);
    return whole_file(out, write_job, job);
}

/* The date in the house, which may not be the one of this machine. */
static void write_today(const struct settings *settings, char date[static 16])
{
    struct wall now = {(int64_t)time(NULL) * MS_PER_S};
    struct date today = date_of_days(local_of_wall(&settings->rules.zone, now).day);
    snprintf(date, 16, "%d-%02u-%02u", today.year, today.month, today.day);
}

enum status handover_main(struct invocation *at, int argc, char *argv[])
{
    const char *path = SETTINGS_DEFAULT, *maps = NULL, *out = NULL;
    bool plain = false;
    const struct option_row rows[] = {{"--out", &out, NULL, "a file or a folder"},
                                      {"--text", NULL, &plain, NULL},
                                      {"--settings", &path, NULL, "a settings file"},
                                      {"--maps", &maps, NULL, "the folder of the meter maps"},
                                      {0}};
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "handover");
    enum status status;
    struct settings *settings = read_settings(path, maps, NULL, &status);
    if (!settings)
        return status;
    struct observed_now observed;
    observed_ask(&observed, at->socket, settings);
    struct house house = {.settings = settings, .path = path, .observed = &observed};
    write_today(settings, house.printed);
    status = write_out(out, &(struct job){&house, 0, SHEETS, plain});
    observed_free(&observed);
    settings_free(settings);
    return status;
}

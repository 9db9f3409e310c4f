/* faults.c - what is wrong, and what to do first: `sluice faults`.
 *
 * What stands now comes from the daemon; what is over from the ledger, which needs none. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "control.h"
#include "past_faults.h"
#include "say.h"
#include "sluice/options.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"
#include "sluice/setup/read_settings.h"
#include "values/values.h"

#define LEDGER_DEFAULT "/var/lib/sluice/ledger.db"

enum { INDENT = 2, LINE_MAX = 1024, DAYS_MOST = 4000, DAYS_WITHOUT_DAEMON = 7 };

struct wish {
    const char *days, *ledger, *settings, *maps;
    bool json;
};

struct files {
    struct zone zone;
    char ledger[192];
};

/* ---- what stands --------------------------------------------------------------------- */

static void print_wrapped(struct page *page, enum page_colour colour, const char *text)
{
    page_to(page, INDENT);
    page_colour(page, colour);
    page_wrap(page, INDENT, text);
    page_colour(page, PAGE_PLAIN);
}

static const char *title_of(const cJSON *status, const cJSON *finding)
{
    const cJSON *load;
    cJSON_ArrayForEach(
        load, get(status, "loads")) if (*words(finding, "load") &&
                                        is(load, "name",
                                           words(finding, "load"))) return words(load, "title");
    return "";
}

static void print_about(struct page *page, const char *title, const char *about)
{
    char buffer[LINE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    bool both = *title && strcmp(title, about) != 0;
    text_add(&text, "%s%s%s%s",
             *title   ? title
             : *about ? about
                      : "the site",
             both ? " (" : "", both ? about : "", both ? ")" : "");
    page_end(page);
    page_colour(page, PAGE_BOLD);
    page_wrap(page, INDENT, buffer);
    page_colour(page, PAGE_PLAIN);
}

/* "very likely, 99 %; seen 5 times since Wed 11:04" */
static void add_facts(struct text *text, const cJSON *finding, int32_t today)
{
    int64_t percent, seen, age_ms;
    if (number(finding, "sure_percent", &percent))
        text_add(text, "%s, %" PRId64 " %%; ",
                 percent >= FAULT_VERY_LIKELY_PERCENT ? "very likely" : "likely", percent);
    number(finding, "seen", &seen);
    if (yes(finding, "inferred") && seen > 0)
        text_add(text, "seen %" PRId64 " time%s, ", seen, seen == 1 ? "" : "s");
    else if (seen > 1)
        text_add(text, "came %" PRId64 " times, ", seen);
    text_add(text, "since ");
    if (*words(finding, "since"))
        say_time(text, words(finding, "since"), today);
    else if (number(finding, "age_ms", &age_ms))
        show_duration(text, age_ms);
    else
        text_add(text, "an unknown time");
}

static void print_finding(struct page *page, const cJSON *finding, int32_t today)
{
    char buffer[LINE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    print_wrapped(page, PAGE_RED, words(finding, "text"));
    add_facts(&text, finding, today);
    print_wrapped(page, PAGE_PLAIN, buffer);
    text = text_in(buffer, sizeof(buffer));
    text_add(&text, "First: %s", words(finding, "first"));
    if (*words(finding, "first"))
        print_wrapped(page, PAGE_PLAIN, buffer);
}

static void print_now(struct page *page, const cJSON *status)
{
    struct local local;
    int32_t today = show_read_time(words(status, "time"), &local) ? local.day : 0;
    const cJSON *finding, *findings = get(status, "findings");
    int count = cJSON_GetArraySize(findings);
    char buffer[LINE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%s: ", words(status, "site"));
    if (count == 0)
        text_add(&text, "nothing wrong is known");
    else
        text_add(&text, "%d fault%s now", count, count == 1 ? "" : "s");
    page_colour(page, PAGE_BOLD);
    page_wrap(page, INDENT, buffer);
    page_colour(page, PAGE_PLAIN);
    const char *about = NULL;
    cJSON_ArrayForEach(finding, findings)
    {
        bool again = about && strcmp(about, words(finding, "about")) == 0;
        about = words(finding, "about");
        if (again)
            page_end(page);
        else
            print_about(page, title_of(status, finding), about);
        print_finding(page, finding, today);
    }
}

/* ---- what is over -------------------------------------------------------------------------- */

static void add_moment(struct text *text, const struct zone *zone, struct wall wall)
{
    char buffer[40];
    struct text moment = text_in(buffer, sizeof(buffer));
    value_write_moment(zone, wall, &moment);
    say_date_and_time(text, buffer);
}

static void print_past(struct page *page, const struct past_fault *fault, const struct zone *zone)
{
    char buffer[LINE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    print_about(page, "", fault_id_name(fault->id));
    print_wrapped(page, PAGE_PLAIN, fault->text);
    if (fault->times > 1) {
        text_add(&text, "%u times, ", fault->times);
        show_duration(&text, fault->stood_ms);
        text_add(&text, " in all; last ");
    }
    add_moment(&text, zone, fault->last_from);
    if (fault->stands) {
        text_add(&text, ", and it stood when sluiced last wrote");
    } else {
        text_add(&text, " for ");
        show_duration(&text, fault->last_to.ms - fault->last_from.ms);
        if (fault->with_restart)
            text_add(&text, ", until sluiced was started anew");
    }
    print_wrapped(page, PAGE_PLAIN, buffer);
}

/* With the daemon there, what stands has been told already. */
static void print_all_past(struct page *page, const struct past_faults *past, int64_t days,
                           const struct zone *zone, bool with_standing)
{
    char buffer[LINE_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    int count = 0;
    for (int k = 0; k < past->count; k++)
        count += with_standing || !past->item[k].stands;
    text_add(&text, "Last %" PRId64 " day%s: %s%s", days, days == 1 ? "" : "s",
             count ? "" : "no other fault is recorded",
             count == 0      ? ""
             : with_standing ? "from the ledger"
                             : "over now");
    page_end(page);
    page_colour(page, PAGE_BOLD);
    page_wrap(page, INDENT, buffer);
    page_colour(page, PAGE_PLAIN);
    for (int k = 0; k < past->count; k++)
        if (with_standing || !past->item[k].stands)
            print_past(page, &past->item[k], zone);
}

/* ---- as JSON --------------------------------------------------------------------------------- */

static cJSON *moment_json(const struct zone *zone, struct wall wall)
{
    char buffer[40];
    struct text text = text_in(buffer, sizeof(buffer));
    value_write_moment(zone, wall, &text);
    return cJSON_CreateString(buffer);
}

static cJSON *past_json(const struct past_faults *past, const struct zone *zone)
{
    cJSON *list = cJSON_CreateArray();
    for (int k = 0; k < past->count; k++) {
        const struct past_fault *fault = &past->item[k];
        cJSON *item = cJSON_CreateObject();
        cJSON_AddStringToObject(item, "id", fault->id);
        cJSON_AddStringToObject(item, "about", fault_id_name(fault->id));
        cJSON_AddStringToObject(item, "text", fault->text);
        cJSON_AddNumberToObject(item, "times", fault->times);
        cJSON_AddNumberToObject(item, "stood_ms", (double)fault->stood_ms);
        cJSON_AddItemToObject(item, "first", moment_json(zone, fault->first));
        cJSON_AddItemToObject(item, "last_from", moment_json(zone, fault->last_from));
        cJSON_AddItemToObject(item, "last_to",
                              fault->stands ? cJSON_CreateNull()
                                            : moment_json(zone, fault->last_to));
        cJSON_AddItemToArray(list, item);
    }
    return list;
}

static void print_json(const cJSON *status, const struct past_faults *past, const struct zone *zone)
{
    cJSON *root = cJSON_CreateObject();
    const cJSON *findings = get(status, "findings");
    cJSON_AddItemToObject(root, "findings",
                          findings ? cJSON_Duplicate(findings, true) : cJSON_CreateNull());
    cJSON_AddItemToObject(root, "past", past ? past_json(past, zone) : cJSON_CreateNull());
    char *text = cJSON_PrintUnformatted(root);
    puts(text ? text : "{}");
    free(text);
    cJSON_Delete(root);
}

/* ---- the command --------------------------------------------------------------------------------
 */

/* Without settings times are UTC. */
static enum status take_files(const struct wish *wish, struct files *files)
{
    const char *path = wish->settings ? wish->settings : SETTINGS_DEFAULT;
    struct text text = text_in(files->ledger, sizeof(files->ledger));
    enum status status = STATUS_DONE;
    files->zone = zone_utc;
    if (!wish->settings && access(path, R_OK) != 0) {
        fprintf(stderr,
                "sluice: no settings at \"%s\": times of past faults are UTC; name the settings "
                "with --settings FILE\n",
                path);
        text_add(&text, "%s", wish->ledger ? wish->ledger : LEDGER_DEFAULT);
        return STATUS_DONE;
    }
    struct settings *settings = read_settings(path, wish->maps, NULL, &status);
    if (!settings)
        return status;
    files->zone = settings->rules.zone;
    text_add(&text, "%s", wish->ledger ? wish->ledger : settings->ledger.path);
    settings_free(settings);
    return STATUS_DONE;
}

static bool read_days(const char *word, int64_t *days)
{
    char *end;
    *days = word ? strtoll(word, &end, 10) : DAYS_WITHOUT_DAEMON;
    if (!word || (end != word && !*end && *days >= 1 && *days <= DAYS_MOST))
        return true;
    complain(STATUS_USAGE, "\"%s\" is not a number of days: 1 to %d is expected", word, DAYS_MOST);
    return false;
}

static cJSON *ask_daemon(const struct invocation *at, struct trouble *trouble)
{
    char *answer = control_ask(at->socket, "status", trouble);
    cJSON *status = answer ? cJSON_Parse(answer) : NULL;
    if (answer && !cJSON_IsArray(get(status, "findings"))) {
        trouble_set(trouble, "", "\"%.80s\" has no findings: is sluiced of another version?",
                    answer);
        cJSON_Delete(status);
        status = NULL;
    }
    free(answer);
    return status;
}

/* The clock of a simulated house is not this machine's: its own, where it answers. */
static struct wall now_of(const cJSON *status)
{
    struct local local;
    int hours, minutes;
    const char *time_text = words(status, "time"), *offset = time_text + 19;
    if (!status || !yes(status, "clock_trusted") || !show_read_time(time_text, &local) ||
        sscanf(offset, "%3d:%2d", &hours, &minutes) != 2)
        return (struct wall){(int64_t)time(NULL) * MS_PER_S};
    int64_t offset_s = hours * 3600 + (offset[0] == '-' ? -minutes : minutes) * 60;
    return (struct wall){(local.day * INT64_C(86400) + local.second - offset_s) * MS_PER_S};
}

static enum status show(const struct invocation *at, const struct wish *wish, const cJSON *status,
                        const struct trouble *away, int64_t days)
{
    struct page page = {.colour = at->colour, .width = page_terminal_width()};
    struct files files;
    struct trouble trouble;
    struct past_faults past = {0};
    bool wants_past = wish->days || !status;
    enum status result = !status                                           ? STATUS_NOT_THERE
                         : cJSON_GetArraySize(get(status, "findings")) > 0 ? STATUS_REFUSED
                                                                           : STATUS_DONE;
    if (!status)
        complain(result, "%s%s", away->text, "; what follows is from the ledger");
    if (wants_past && take_files(wish, &files) != STATUS_DONE)
        return STATUS_NOT_THERE;
    struct wall now = now_of(status), from = {now.ms - days * MS_PER_DAY};
    if (wants_past && !past_faults_read(&past, files.ledger, from, now, &trouble)) {
        past_faults_free(&past);
        return complain(STATUS_NOT_THERE, "%s: %s", trouble.place, trouble.text);
    }
    if (wish->json) {
        print_json(status, wants_past ? &past : NULL, &files.zone);
    } else {
        if (status)
            print_now(&page, status);
        if (wants_past)
            print_all_past(&page, &past, days, &files.zone, !status);
        page_end(&page);
        page_colour(&page, PAGE_DIM);
        page_wrap(&page, 0,
                  "Off is not isolation: isolate all supplies and prove dead before opening.");
        page_colour(&page, PAGE_PLAIN);
    }
    past_faults_free(&past);
    return result;
}

enum status faults_main(struct invocation *at, int argc, char *argv[])
{
    struct wish wish = {0};
    const struct option_row rows[] = {
        {"--days", &wish.days, NULL, "a number of days"},
        {"--ledger", &wish.ledger, NULL, "the ledger's file"},
        {"--settings", &wish.settings, NULL, "the settings file"},
        {"--maps", &wish.maps, NULL, "the folder of the meter maps"},
        {"--json", NULL, &wish.json, NULL},
        {0},
    };
    struct trouble away;
    int64_t days;
    int count = options_read(at, rows, argc, argv);
    if (count < 0)
        return options_status(count);
    if (count != 0)
        return complain_usage(at, "faults");
    if (!read_days(wish.days, &days))
        return STATUS_USAGE;
    cJSON *status = ask_daemon(at, &away);
    enum status result = show(at, &wish, status, &away, days);
    cJSON_Delete(status);
    return result;
}

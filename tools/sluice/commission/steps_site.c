/* steps_site.c - the steps about the machine, its settings and what is around it. */
#include <stdlib.h>
#include <string.h>
#include <sys/statvfs.h>

#include "settings/notices.h"
#include "sluice/live/say.h"
#include "sluice/page/show.h"
#include "sluice/path.h"
#include "steps.h"

/* ---- settings ------------------------------------------------------------------------------ */

/* Notices come as sentences of one line or more: two blanks begin one, four go on with it. */
static void add_notices(struct step_result *result, char *notices)
{
    bool first = true;
    for (char *line = strtok(notices, "\n"); line; line = strtok(NULL, "\n")) {
        bool begins = strncmp(line, "  ", 2) == 0 && line[2] != ' ';
        size_t used = strlen(result->evidence);
        struct text text = text_in(result->evidence + used, sizeof(result->evidence) - used);
        if (strncmp(line, "  ", 2) != 0)
            continue; /* the heading */
        text_add(&text, "%s%s", begins && first ? " Notices: " : " ", line + strspn(line, " "));
        first = false;
    }
}

static void tell_notices(const struct settings *settings, struct step_result *result)
{
    char *notices = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&notices, &size);
    if (!to)
        return;
    notices_write(to, settings);
    fclose(to);
    add_notices(result, notices);
    free(notices);
}

/* The running daemon may have been started with another file, or before this one was edited. It
 * shows the names and powers of its loads, and not all of its settings. */
static const char *other_load(const struct session *session)
{
    const struct settings *settings = session->settings;
    const cJSON *load;
    int count = cJSON_GetArraySize(get(session->status, "loads"));
    for (uint16_t k = 0; k < settings->rules.load_count; k++) {
        int64_t power_w = 0;
        load = session_load(session, settings->names[k].name);
        number(load, "nameplate_w", &power_w);
        if (!load || power_w != settings->loads[k].power_w)
            return settings->names[k].name;
    }
    return count == settings->rules.load_count ? NULL : "one that this file does not have";
}

void step_settings(struct session *session, int index, struct step_result *result)
{
    const struct settings *settings = session->settings;
    const char *other;
    (void)index;
    if (!session_look(session))
        return;
    other = other_load(session);
    if (is(get(session->status, "settings"), "in_force", "last-accepted")) {
        step_end(result, STEP_FAIL,
                 "sluiced runs the last accepted settings, not this file: \"sluice check\" says "
                 "what is wrong with it, \"sluice reload\" puts it in force");
        return;
    }
    if (other) {
        step_end(result, STEP_FAIL,
                 "sluiced runs other settings than this file (load: %s): \"sluice reload\" puts "
                 "it in force",
                 other);
        return;
    }
    step_end(result, STEP_PASS,
             "read without an error; names and powers of loads agree with what is in force: %d "
             "load%s, %d meter%s.",
             (int)settings->rules.load_count, settings->rules.load_count == 1 ? "" : "s",
             (int)settings->meter_count, settings->meter_count == 1 ? "" : "s");
    tell_notices(settings, result);
}

/* ---- clock --------------------------------------------------------------------------------- */

void step_clock(struct session *session, int index, struct step_result *result)
{
    char now[64];
    struct text text = text_in(now, sizeof(now));
    struct local local;
    (void)index;
    if (!session_look(session))
        return;
    if (show_read_time(words(session->status, "time"), &local)) {
        show_date(&text, date_of_days(local.day));
        text_add(&text, " ");
        show_clock(&text, local.second);
    }
    if (!yes(session->status, "clock_trusted"))
        step_end(result, STEP_FAIL,
                 "%s in zone %s, and not trusted: it has not been set since this machine started. "
                 "Possible: no time server is reached, and no clock with a battery is fitted",
                 now, session->settings->timezone);
    else
        step_end(result, STEP_PASS, "%s in zone %s", now, session->settings->timezone);
}

/* ---- broker -------------------------------------------------------------------------------- */

void step_broker(struct session *session, int index, struct step_result *result)
{
    const struct mqtt_settings *mqtt = &session->settings->mqtt;
    (void)index;
    if (!session_look(session))
        return;
    const cJSON *broker = get(session->status, "mqtt");
    if (!mqtt->enabled)
        step_end(result, STEP_SKIPPED, "no broker in the settings");
    else if (yes(broker, "connected"))
        step_end(result, STEP_PASS, "connected to %s, port %d%s%s", mqtt->host, (int)mqtt->port,
                 *words(broker, "trouble") ? ": " : "", words(broker, "trouble"));
    else
        step_end(result, STEP_FAIL, "%s, port %d: not connected%s%s", mqtt->host, (int)mqtt->port,
                 *words(broker, "trouble") ? ": " : "", words(broker, "trouble"));
}

static bool is_here(const char *host)
{
    return strcmp(host, "localhost") == 0 || strncmp(host, "127.", 4) == 0 ||
           strcmp(host, "::1") == 0;
}

void step_tls(struct session *session, int index, struct step_result *result)
{
    const struct mqtt_settings *mqtt = &session->settings->mqtt;
    (void)index;
    if (!session_look(session))
        return;
    bool connected = yes(get(session->status, "mqtt"), "connected");
    if (!mqtt->enabled) {
        step_end(result, STEP_SKIPPED, "no broker in the settings");
    } else if (mqtt->tls && connected) {
        step_end(result, STEP_PASS, "connected with TLS");
    } else if (mqtt->tls) {
        step_end(result, STEP_NOT_NOW, "TLS is set, and the broker is not connected");
    } else if (is_here(mqtt->host)) {
        step_end(result, STEP_SKIPPED, "the broker is on this machine, without TLS");
    } else {
        step_end(result, STEP_SKIPPED, "TLS is not set");
        step_caution(result, "The broker is used without TLS: whoever is on that network can read "
                             "what is published, and the password.");
    }
}

/* ---- storage --------------------------------------------------------------------------------- */

void step_storage(struct session *session, int index, struct step_result *result)
{
    enum { LEAST_MB = 20 }; /* common practice, no source */
    const char *path = session->settings->ledger.path;
    char folder[sizeof(session->settings->ledger.path)];
    struct statvfs disk;
    (void)index;
    if (!session_look(session))
        return;
    const char *trouble = words(get(session->status, "ledger"), "trouble");
    path_folder(path, folder, sizeof(folder));
    if (*trouble) {
        step_end(result, STEP_FAIL, "%s", trouble);
        return;
    }
    step_end(result, STEP_PASS, "the ledger %s is written without trouble", path);
    if (statvfs(folder, &disk) != 0) {
        step_add(result, "how much room there is cannot be seen: %m");
        return;
    }
    int64_t free_mb = (int64_t)disk.f_bavail * (int64_t)disk.f_frsize / 1000000;
    if (free_mb < LEAST_MB)
        result->outcome = STEP_FAIL;
    step_add(result, "%lld MB are free%s", (long long)free_mb,
             free_mb < LEAST_MB ? ": too little for its history" : "");
}

/* ---- findings, and troubles among them
 * --------------------------------------------------------------- */

static void add_finding(const cJSON *finding, struct step_result *result)
{
    const char *load = words(finding, "load"), *first = words(finding, "first");
    result->outcome = STEP_FAIL;
    step_add(result, "%s%s%s%s%s", load, *load ? ": " : "", words(finding, "text"),
             *first ? ". First: " : "", first);
}

void step_findings(struct session *session, int index, struct step_result *result)
{
    (void)index;
    if (!session_look(session))
        return;
    const cJSON *finding;
    cJSON_ArrayForEach(finding, get(session->status, "findings")) add_finding(finding, result);
    if (result->outcome == STEP_OPEN)
        step_end(result, STEP_PASS, "sluiced reports none");
}

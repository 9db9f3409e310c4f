/* put.c - the new text stands beside the file until it is known to be sound; what is asked of
 * sluiced afterwards may still be refused, and then the file before comes back. */
#include "put.h"

#include <cjson/cJSON.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "core/text.h"
#include "quote/quote.h"
#include "settings/edit.h"
#include "settings/settings.h"
#include "sluice/live/control.h"
#include "sluice/whole_file.h"

struct putting {
    const struct invocation *at;
    const struct put_wish *wish;
    char beside[PAST_PATH_MAX]; /* the new text */
    char *before;
    size_t before_size;
    char sum[SHA256_TEXT_SIZE];
    char what_buffer[PAST_WHAT_MAX];
    struct text what;
};

/* ---- files -------------------------------------------------------------------------------------
 */

char *put_read(const char *path, size_t *size)
{
    struct stat found;
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    char *bytes = fd >= 0 && fstat(fd, &found) == 0 && S_ISREG(found.st_mode)
                      ? malloc((size_t)found.st_size + 1)
                      : NULL;
    ssize_t got = bytes ? read(fd, bytes, (size_t)found.st_size) : -1;
    if (got >= 0 && got != found.st_size) {
        errno = EIO;
        got = -1;
    }
    if (got < 0)
        complain(STATUS_NOT_THERE, "\"%s\" cannot be read: %m; a settings file is expected", path);
    if (fd >= 0)
        close(fd);
    if (got < 0) {
        free(bytes);
        return NULL;
    }
    bytes[got] = '\0';
    *size = (size_t)got;
    return bytes;
}

/* As the file at hand: its owner, its rights. */
static bool write_like(const char *like, const char *path, const char *bytes, size_t size)
{
    struct stat found;
    FILE *file = fopen(path, "wxe");
    if (!file)
        return false;
    bool ok = stat(like, &found) == 0 && fchmod(fileno(file), found.st_mode & 07777) == 0;
    if (ok && (found.st_uid != geteuid() || found.st_gid != getegid()))
        ok = fchown(fileno(file), found.st_uid, found.st_gid) == 0;
    ok =
        ok && fwrite(bytes, 1, size, file) == size && fflush(file) == 0 && fsync(fileno(file)) == 0;
    ok = fclose(file) == 0 && ok;
    if (!ok)
        unlink(path);
    return ok;
}

static enum status cannot_write(const char *path)
{
    return complain(STATUS_NOT_THERE, "\"%s\" cannot be written: %m; nothing was changed", path);
}

/* ---- what it comes to ---------------------------------------------------------------------------
 */

/* Of what differs, a line each; all in one for the log. */
static void tell_value(void *context, const char *key, const char *before, const char *after)
{
    struct putting *putting = context;
    printf("%s: %s -> %s\n", key, before ? before : "not set", after ? after : "not set");
    text_add(&putting->what, "%s%s: %s -> %s", putting->what.used ? "; " : "", key,
             before ? before : "not set", after ? after : "not set");
}

static char *describe(const struct settings *settings)
{
    char *said = NULL;
    size_t size;
    FILE *to = open_memstream(&said, &size);
    if (!to)
        return NULL;
    settings_describe(settings, to);
    fclose(to);
    return said;
}

static bool has_line(const char *text, const char *line, size_t length)
{
    for (const char *at = text; at; at = strchr(at, '\n')) {
        at += *at == '\n';
        if (strncmp(at, line, length) == 0 && (at[length] == '\n' || at[length] == '\0'))
            return true;
        if (!*at)
            return false;
    }
    return false;
}

static void print_lines_not_in(const char *text, const char *other, const char *label)
{
    while (*text) {
        size_t length = strcspn(text, "\n");
        if (length > 0 && !has_line(other, text, length))
            printf("%s%.*s\n", label, (int)length, text);
        text += length + (text[length] == '\n');
    }
}

static bool has_notice(const struct settings_troubles *notices, const struct trouble *notice)
{
    for (int k = 0; k < notices->count; k++)
        if (strcmp(notices->item[k].text, notice->text) == 0)
            return true;
    return false;
}

/* What may be right and should be looked at, and was not there before. */
static void tell_new_notices(const struct settings *before, const struct settings *after)
{
    for (int k = 0; k < after->notices.count; k++)
        if (!has_notice(&before->notices, &after->notices.item[k]))
            printf("  look at: %s\n", after->notices.item[k].text);
}

/* Notices name the file that they are of, so they are not compared as sentences. */
static void tell_sentences(struct settings *before, struct settings *after)
{
    tell_new_notices(before, after);
    before->notices.count = after->notices.count = 0;
    char *was = describe(before), *is = describe(after);
    if (was && is) {
        print_lines_not_in(was, is, "  before: ");
        print_lines_not_in(is, was, "  now:    ");
    }
    free(was);
    free(is);
}

/* ---- is it sound --------------------------------------------------------------------------------
 */

/* It is called as the file is: nobody knows of the one beside it. */
static void complain_of(const struct putting *putting, const struct settings_troubles *troubles)
{
    size_t length = strlen(putting->beside);
    for (int k = 0; k < troubles->count; k++) {
        const struct trouble *trouble = &troubles->item[k];
        bool beside = strncmp(trouble->place, putting->beside, length) == 0;
        fprintf(stderr, "%s%s: %s\n", beside ? putting->wish->settings : "",
                beside ? trouble->place + length : trouble->place, trouble->text);
    }
    complain(STATUS_REFUSED, "refused: with this change sluiced would reject the file; nothing was "
                             "changed");
}

static struct settings *load_sound(const struct putting *putting)
{
    struct settings_troubles troubles = {0};
    struct quote_settings quote = {.years = 0};
    const struct settings_more more = {&quote_section, &quote};
    struct settings *settings =
        settings_load(putting->beside, putting->wish->maps, &more, &troubles);
    if (!settings)
        complain_of(putting, &troubles);
    settings_troubles_free(&troubles);
    return settings;
}

static enum status judge(struct putting *putting)
{
    struct trouble trouble;
    struct settings_troubles unused = {0};
    struct settings *after = load_sound(putting);
    if (!after)
        return STATUS_REFUSED;
    struct settings *before =
        settings_load(putting->wish->settings, putting->wish->maps, NULL, &unused);
    settings_troubles_free(&unused);
    enum status status = STATUS_DONE;
    if (!settings_compare(putting->wish->settings, putting->beside, tell_value, putting, &trouble))
        status = complain(STATUS_REFUSED, "%s: %s", trouble.place, trouble.text);
    else if (before)
        tell_sentences(before, after);
    settings_free(before);
    settings_free(after);
    return status;
}

/* ---- in its place, and in force
 * ------------------------------------------------------------------ */

/* What somebody else has written since it was read must not be lost. */
static bool is_as_read(const struct putting *putting)
{
    size_t size;
    char *now = put_read(putting->wish->settings, &size);
    bool same = now && size == putting->before_size && memcmp(now, putting->before, size) == 0;
    free(now);
    return same;
}

static bool is_as_put(const struct putting *putting)
{
    char sum[SHA256_TEXT_SIZE];
    size_t size;
    char *now = put_read(putting->wish->settings, &size);
    if (now)
        sha256_text(now, size, sum);
    free(now);
    return now && strcmp(sum, putting->sum) == 0;
}

static enum status put_back(const struct putting *putting)
{
    if (!is_as_put(putting))
        return complain(STATUS_NOT_THERE,
                        "\"%s\" was changed meanwhile and is left as it is: what "
                        "it was before is in the folder of its changes",
                        putting->wish->settings);
    if (!write_like(putting->wish->settings, putting->beside, putting->before,
                    putting->before_size) ||
        rename(putting->beside, putting->wish->settings) != 0)
        return complain(STATUS_NOT_THERE,
                        "\"%s\" could not be put back: %m; the file before is "
                        "in the folder of its changes",
                        putting->wish->settings);
    return complain(STATUS_REFUSED, "the file is as it was before");
}

/* A daemon that is not there takes the file when it starts. */
static enum status put_in_force(const struct putting *putting, struct past *past)
{
    struct trouble trouble;
    char *answer = control_ask(putting->at->socket, "reload", &trouble);
    if (!answer) {
        if (!control_nobody_listens(putting->at->socket))
            return complain(STATUS_NOT_THERE,
                            "the file is changed; whether it is in force is not known: %s. "
                            "\"sluice reload\" asks again",
                            trouble.text);
        printf("The file is changed. sluiced takes it when it starts: %s\n", trouble.text);
        return STATUS_DONE;
    }
    cJSON *root = cJSON_Parse(answer);
    const cJSON *text = cJSON_GetObjectItemCaseSensitive(root, "text");
    const char *said = cJSON_IsString(text) ? text->valuestring : answer;
    enum status status = STATUS_DONE;
    if (cJSON_IsTrue(cJSON_GetObjectItemCaseSensitive(root, "ok"))) {
        printf("%s\n", said);
    } else {
        complain(STATUS_REFUSED, "%s", said);
        if (!past_was_refused(past))
            complain(STATUS_NOT_THERE, "that it was refused could not be written down: %m");
        status = put_back(putting);
    }
    cJSON_Delete(root);
    free(answer);
    return status;
}

static enum status place(struct putting *putting, struct past *past, const char *what, int undoes)
{
    struct trouble trouble;
    if (!is_as_read(putting))
        return complain(STATUS_REFUSED,
                        "\"%s\" was changed meanwhile: nothing was changed; look, "
                        "and try again",
                        putting->wish->settings);
    if (!past_add(past, undoes, what ? what : putting->what_buffer, putting->before,
                  putting->before_size, putting->sum, &trouble))
        return complain(STATUS_NOT_THERE, "%s: %s", trouble.place, trouble.text);
    if (rename(putting->beside, putting->wish->settings) != 0) {
        enum status status = cannot_write(putting->wish->settings);
        past_was_refused(past);
        return status;
    }
    whole_file_flush_folder(putting->wish->settings);
    return put_in_force(putting, past);
}

enum status put_settings(const struct invocation *at, const struct put_wish *wish,
                         struct past *past, const char *what, int undoes, const char *bytes,
                         size_t size)
{
    struct putting putting = {.at = at, .wish = wish};
    putting.what = text_in(putting.what_buffer, sizeof(putting.what_buffer));
    if (snprintf(putting.beside, sizeof(putting.beside), "%s.%ld", wish->settings,
                 (long)getpid()) >= (int)sizeof(putting.beside))
        return complain(STATUS_USAGE, "\"%.60s...\" is too long for a file's name", wish->settings);
    putting.before = put_read(wish->settings, &putting.before_size);
    if (!putting.before)
        return STATUS_NOT_THERE;
    sha256_text(bytes, size, putting.sum);
    enum status status;
    if (write_like(wish->settings, putting.beside, bytes, size)) {
        status = judge(&putting);
        if (status == STATUS_DONE && !wish->try_only)
            status = place(&putting, past, what, undoes);
        unlink(putting.beside);
    } else {
        status = cannot_write(putting.beside);
    }
    free(putting.before);
    return status;
}

/* past.c - a line a change, tabs between its parts; one that is not as it was written is passed
 * over. The log is only ever added to, so that nobody's change is lost to another's. */
#include "past.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "sluice/whole_file.h"

enum { LINE_MAX_BYTES = 1100 };

static void path_of(const struct past *past, const char *name, char path[static PAST_PATH_MAX])
{
    snprintf(path, PAST_PATH_MAX, "%s/%s", past->folder, name);
}

void past_before(const struct past *past, int number, char path[static PAST_PATH_MAX])
{
    char name[32];
    snprintf(name, sizeof(name), "%d.before", number);
    path_of(past, name, path);
}

/* ---- reading -----------------------------------------------------------------------------------
 */

static struct past_change *more(struct past *past)
{
    if (past->count == past->room) {
        int room = past->room + 32;
        struct past_change *change = realloc(past->change, (size_t)room * sizeof(*change));
        if (!change)
            return NULL;
        past->change = change;
        past->room = room;
    }
    past->change[past->count] = (struct past_change){0};
    return &past->change[past->count];
}

static bool take_part(char **line, char *to, size_t size)
{
    char *part = strsep(line, "\t\n");
    if (!part || strlen(part) >= size)
        return false;
    memcpy(to, part, strlen(part) + 1);
    return true;
}

static struct past_change *find_change(struct past *past, int number)
{
    for (int k = 0; k < past->count; k++)
        if (past->change[k].number == number)
            return &past->change[k];
    return NULL;
}

/* An undo that was refused has undone nothing. */
static void mark_undone(struct past *past, int number)
{
    struct past_change *change = find_change(past, number);
    struct past_change *before = change ? find_change(past, change->undoes) : NULL;
    if (change)
        change->undone = true;
    if (before)
        before->undone = false;
}

static void take_line(struct past *past, char *line)
{
    struct past_change *change = more(past);
    char number[12], undoes[12];
    if (!change || !take_part(&line, number, sizeof(number)) ||
        !take_part(&line, undoes, sizeof(undoes)) ||
        !take_part(&line, change->at, sizeof(change->at)) ||
        !take_part(&line, change->who, sizeof(change->who)) ||
        !take_part(&line, change->from, sizeof(change->from)) ||
        !take_part(&line, change->after, sizeof(change->after)) ||
        !take_part(&line, change->what, sizeof(change->what)))
        return;
    change->number = atoi(number);
    change->undoes = atoi(undoes);
    if (change->number < 1)
        return;
    past->count++;
    if (change->undoes > 0)
        mark_undone(past, change->undoes);
}

static bool read_log(struct past *past, struct trouble *trouble)
{
    char path[PAST_PATH_MAX], line[LINE_MAX_BYTES];
    path_of(past, "log", path);
    FILE *file = fopen(path, "re");
    if (!file)
        return errno == ENOENT || trouble_set(trouble, path, "cannot be read: %s", strerror(errno));
    while (fgets(line, sizeof(line), file))
        take_line(past, line);
    fclose(file);
    return true;
}

/* ---- one at a time
 * ------------------------------------------------------------------------------- */

static bool hold(struct past *past, struct trouble *trouble)
{
    char path[PAST_PATH_MAX];
    path_of(past, "lock", path);
    if (mkdir(past->folder, 0750) != 0 && errno != EEXIST)
        return trouble_set(trouble, past->folder, "cannot be made: %s", strerror(errno));
    past->lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0640);
    if (past->lock < 0)
        return trouble_set(trouble, path, "cannot be written: %s", strerror(errno));
    if (flock(past->lock, LOCK_EX | LOCK_NB) == 0)
        return true;
    close(past->lock);
    past->lock = -1;
    return trouble_set(trouble, past->folder,
                       "somebody else is changing the settings right now: "
                       "try again");
}

bool past_open(struct past *past, const char *settings, bool to_change, struct trouble *trouble)
{
    char file[PATH_MAX]; /* where a link leads: it stands beside that */
    *past = (struct past){.lock = -1};
    if (snprintf(past->folder, sizeof(past->folder), "%s.changes",
                 realpath(settings, file) ? file : settings) >= (int)sizeof(past->folder))
        return trouble_set(trouble, "", "\"%.60s...\" is too long for a file's name", settings);
    return (!to_change || hold(past, trouble)) && read_log(past, trouble);
}

void past_close(struct past *past)
{
    if (past->lock >= 0)
        close(past->lock);
    free(past->change);
}

const struct past_change *past_newest(const struct past *past)
{
    for (int k = past->count - 1; k >= 0; k--)
        if (!past->change[k].undone && past->change[k].undoes == 0)
            return &past->change[k];
    return NULL;
}

/* ---- adding
 * -------------------------------------------------------------------------------------- */

static bool write_whole(const char *path, const char *mode, const void *bytes, size_t size)
{
    FILE *file = fopen(path, mode);
    if (!file)
        return false;
    bool ok = fwrite(bytes, 1, size, file) == size && fflush(file) == 0 && fsync(fileno(file)) == 0;
    ok = fclose(file) == 0 && ok;
    if (ok)
        whole_file_flush_folder(path);
    return ok;
}

/* What came over a login, made fit for a line with tabs. */
static void take_name(char to[static PAST_WHO_MAX], const char *name)
{
    size_t length = name ? strcspn(name, " ") : 0;
    if (length >= PAST_WHO_MAX)
        length = PAST_WHO_MAX - 1;
    for (size_t k = 0; k < length; k++)
        to[k] = (unsigned char)name[k] > ' ' && name[k] != 0x7f ? name[k] : '?';
    to[length] = '\0';
}

static void take_login(struct past_change *change)
{
    const char *who = getenv("SUDO_USER");
    time_t now = time(NULL);
    struct tm utc;
    take_name(change->who, who ? who : getenv("USER"));
    take_name(change->from, getenv("SSH_CONNECTION"));
    if (gmtime_r(&now, &utc))
        strftime(change->at, sizeof(change->at), "%Y-%m-%dT%H:%M:%SZ", &utc);
}

/* One that a full disk cut off must not swallow the next. */
static bool ends_open(const char *path)
{
    FILE *file = fopen(path, "re");
    bool open = file && fseek(file, -1, SEEK_END) == 0 && fgetc(file) != '\n';
    if (file)
        fclose(file);
    return open;
}

static bool add_line(const struct past *past, const struct past_change *change)
{
    char path[PAST_PATH_MAX], line[LINE_MAX_BYTES];
    path_of(past, "log", path);
    int length = snprintf(line, sizeof(line), "%s%d\t%d\t%s\t%s\t%s\t%s\t%s\n",
                          ends_open(path) ? "\n" : "", change->number, change->undoes, change->at,
                          change->who, change->from, change->after, change->what);
    return length < (int)sizeof(line) && write_whole(path, "ae", line, (size_t)length);
}

bool past_add(struct past *past, int undoes, const char *what, const void *before, size_t size,
              const char after[static SHA256_TEXT_SIZE], struct trouble *trouble)
{
    char path[PAST_PATH_MAX];
    struct past_change *change = more(past);
    if (!change)
        return trouble_set(trouble, past->folder, "no memory");
    change->number = past->count > 0 ? past->change[past->count - 1].number + 1 : 1;
    change->undoes = undoes;
    memcpy(change->after, after, SHA256_TEXT_SIZE);
    snprintf(change->what, sizeof(change->what), "%s", what);
    take_login(change);
    past_before(past, change->number, path);
    if (!write_whole(path, "we", before, size) || !add_line(past, change))
        return trouble_set(trouble, past->folder, "cannot be written: %s; nothing was changed",
                           strerror(errno));
    past->count++;
    past_before(past, change->number - PAST_KEPT, path);
    unlink(path);
    return true;
}

bool past_was_refused(struct past *past)
{
    struct past_change refused = past->change[past->count - 1];
    char what[PAST_WHAT_MAX];
    snprintf(what, sizeof(what), "refused: %.600s", refused.what);
    memcpy(refused.what, what, sizeof(what));
    refused.undoes = refused.number++;
    return add_line(past, &refused);
}

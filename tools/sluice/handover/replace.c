/* replace.c - first all is written, then all is renamed: what can fail for want of room or
 * rights fails before anything has changed. */
#include "replace.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "core/text.h"
#include "sluice/path.h"

enum { TRIES = 100 };

static bool fail(struct trouble *trouble, const char *path)
{
    return trouble_set(trouble, "", "\"%.200s\" cannot be written: %s", path, strerror(errno));
}

/* ---- whose it becomes ----------------------------------------------------------------------- */

/* Whoever owns the folder. Only root can give files away, and whoever else restores keeps them.
 * Through what was opened: in a folder of the daemon's user, that user may put another thing
 * at `path` meanwhile. */
static void give(int fd, const char *path)
{
    char folder[REPLACE_PATH_MAX];
    struct stat found;
    if (geteuid() == 0 && path_folder(path, folder, sizeof(folder)) && stat(folder, &found) == 0)
        (void)!fchown(fd, found.st_uid, found.st_gid);
}

static void give_folder(const char *folder)
{
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_NOFOLLOW | O_CLOEXEC);
    if (fd < 0)
        return;
    give(fd, folder);
    close(fd);
}

/* ---- writing -------------------------------------------------------------------------------- */

bool replace_make_folder(struct replacing *replacing, const char *folder, struct trouble *trouble)
{
    char above[REPLACE_PATH_MAX];
    struct stat found;
    if (stat(folder, &found) == 0)
        return S_ISDIR(found.st_mode) ||
               trouble_set(trouble, "", "\"%.200s\" is not a folder", folder);
    if (!path_folder(folder, above, sizeof(above)) || strcmp(above, folder) == 0 ||
        !replace_make_folder(replacing, above, trouble))
        return false;
    if (mkdir(folder, 0750) != 0)
        return fail(trouble, folder);
    give_folder(folder);
    if (replacing && replacing->made_count < REPLACE_FOLDERS_MAX) {
        struct text text = text_in(replacing->made[replacing->made_count++], REPLACE_PATH_MAX);
        text_add(&text, "%s", folder);
    }
    return true;
}

static bool write_bytes(int fd, const struct part *part)
{
    for (size_t done = 0; done < part->size;) {
        ssize_t wrote = write(fd, part->bytes + done, part->size - done);
        if (wrote < 0 && errno != EINTR)
            return false;
        done += wrote > 0 ? (size_t)wrote : 0;
    }
    return true;
}

bool replace_write(const char *path, const struct part *part, struct trouble *trouble)
{
    const struct timespec times[] = {{.tv_sec = part->modified_s}, {.tv_sec = part->modified_s}};
    int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (fd < 0)
        return fail(trouble, path);
    bool ok = write_bytes(fd, part) && fchmod(fd, part->mode) == 0 && futimens(fd, times) == 0;
    if (ok)
        give(fd, path);
    ok = ok && fsync(fd) == 0;
    int error = errno;
    if (close(fd) == 0 && ok)
        return true;
    errno = ok ? errno : error;
    fail(trouble, path);
    unlink(path);
    return false;
}

/* ---- staging -------------------------------------------------------------------------------- */

static struct move *begin(struct replacing *replacing, const char *place, struct trouble *trouble)
{
    if (replacing->count == REPLACE_MOST) {
        trouble_set(trouble, "", "too many files");
        return NULL;
    }
    struct move *move = &replacing->move[replacing->count];
    *move = (struct move){.folder = false};
    struct text text = text_in(move->place, sizeof(move->place));
    text_add(&text, "%s", place);
    if (text.full || text.used + 40 > sizeof(move->place)) {
        trouble_set(trouble, "", "\"%.100s...\" is too long for a file's name", place);
        return NULL;
    }
    return move;
}

static void name_staged(struct move *move)
{
    struct text text = text_in(move->staged, sizeof(move->staged));
    text_add(&text, "%s.restore-%ld", move->place, (long)getpid());
}

static bool is_same(const char *place, const struct part *part)
{
    struct stat found;
    int fd = open(place, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (fd < 0)
        return false;
    char *bytes = malloc(part->size + 1);
    bool same = bytes && fstat(fd, &found) == 0 && S_ISREG(found.st_mode) &&
                (found.st_mode & 0777) == part->mode &&
                read(fd, bytes, part->size + 1) == (ssize_t)part->size &&
                memcmp(bytes, part->bytes, part->size) == 0;
    free(bytes);
    close(fd);
    return same;
}

bool replace_stage(struct replacing *replacing, const char *place, const struct part *part,
                   struct trouble *trouble)
{
    char folder[REPLACE_PATH_MAX];
    struct move *move = begin(replacing, place, trouble);
    if (!move || !path_folder(place, folder, sizeof(folder)) ||
        !replace_make_folder(replacing, folder, trouble))
        return false;
    move->same = is_same(place, part);
    name_staged(move);
    if (!replace_write(move->staged, part, trouble))
        return false;
    replacing->count++;
    return true;
}

bool replace_stage_folder(struct replacing *replacing, const char *place,
                          char staged[static REPLACE_PATH_MAX], struct trouble *trouble)
{
    char folder[REPLACE_PATH_MAX];
    struct move *move = begin(replacing, place, trouble);
    if (!move || !path_folder(place, folder, sizeof(folder)) ||
        !replace_make_folder(replacing, folder, trouble))
        return false;
    move->folder = true;
    name_staged(move);
    if (mkdir(move->staged, 0750) != 0)
        return fail(trouble, move->staged);
    give_folder(move->staged);
    memcpy(staged, move->staged, sizeof(move->staged));
    replacing->count++;
    return true;
}

/* PATH.before, or the first of PATH.before-2 ... that is free. */
static bool name_before(const char *place, char before[static REPLACE_PATH_MAX])
{
    struct stat found;
    for (int k = 1; k <= TRIES; k++) {
        struct text text = text_in(before, REPLACE_PATH_MAX);
        text_add(&text, "%s.before", place);
        if (k > 1)
            text_add(&text, "-%d", k);
        if (!text.full && lstat(before, &found) != 0)
            return true;
    }
    errno = EEXIST;
    return false;
}

static const struct move *find(const struct replacing *replacing, const char *place)
{
    for (int k = 0; k < replacing->count; k++)
        if (strcmp(replacing->move[k].place, place) == 0)
            return &replacing->move[k];
    return NULL;
}

const char *replace_staged(const struct replacing *replacing, const char *place)
{
    const struct move *move = find(replacing, place);
    return move ? move->staged : NULL;
}

bool replace_remove(struct replacing *replacing, const char *place, const char *beside,
                    const char *end, struct trouble *trouble)
{
    char before[REPLACE_PATH_MAX];
    struct stat found;
    if (lstat(place, &found) != 0)
        return true;
    struct move *move = begin(replacing, place, trouble);
    if (!move)
        return false;
    if (beside && name_before(beside, before)) {
        struct text text = text_in(move->before, sizeof(move->before));
        text_add(&text, "%s%s", before, end);
    }
    replacing->count++;
    return true;
}

/* ---- in place ------------------------------------------------------------------------------- */

static bool put_aside(struct move *move)
{
    struct stat found;
    if (lstat(move->place, &found) != 0) {
        move->before[0] = '\0';
        return errno == ENOENT;
    }
    if (!move->before[0] && !name_before(move->place, move->before))
        return false;
    move->put_aside = rename(move->place, move->before) == 0;
    return move->put_aside;
}

static bool move_one(struct move *move, struct trouble *trouble)
{
    if (move->same)
        return true;
    if (!put_aside(move))
        return fail(trouble, move->before[0] ? move->before : move->place);
    if (!move->staged[0])
        return true;
    move->placed = rename(move->staged, move->place) == 0;
    return move->placed || fail(trouble, move->place);
}

static void undo(struct move *move)
{
    if (move->placed)
        rename(move->place, move->staged);
    if (move->put_aside)
        rename(move->before, move->place);
    move->placed = move->put_aside = false;
}

bool replace_commit(struct replacing *replacing, struct trouble *trouble)
{
    for (int k = 0; k < replacing->count; k++) {
        if (move_one(&replacing->move[k], trouble))
            continue;
        for (; k >= 0; k--)
            undo(&replacing->move[k]);
        return false;
    }
    sync(); /* the folders' own entries: a power cut now must not undo half of it */
    return true;
}

static int remove_one(const char *path, const struct stat *found, int kind, struct FTW *walk)
{
    (void)found, (void)kind, (void)walk;
    return remove(path);
}

void replace_remove_folder(const char *folder)
{
    nftw(folder, remove_one, 4, FTW_DEPTH | FTW_PHYS);
}

void replace_drop(struct replacing *replacing)
{
    for (int k = 0; k < replacing->count; k++) {
        struct move *move = &replacing->move[k];
        if (move->placed || !move->staged[0])
            continue;
        if (move->folder)
            replace_remove_folder(move->staged);
        else
            unlink(move->staged);
    }
    for (int k = replacing->made_count - 1; k >= 0; k--)
        rmdir(replacing->made[k]);
}

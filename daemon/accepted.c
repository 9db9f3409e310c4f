/* accepted.c - two folders that change places.
 *
 * STATE/accepted holds sluice.yaml and meters/NAME.yaml, byte for byte as they were
 * accepted, so that they load like any others. New ones are written beside them, flushed,
 * and only then take their place; the folder they replace is the last to go. Whenever the
 * power fails, `accepted` or, for one moment, `accepted.old` is there and whole. */
#include "accepted.h"

#include <errno.h>
#include <fcntl.h>
#include <ftw.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "loop/thread.h"
#include "troubles.h"

enum { FILES_MAX = 1 + SETTINGS_METERS_MAX, PATH_SIZE = 320 };

static const char trouble_id[] = "settings-kept";

struct kept_file {
    char name[64]; /* below the folder */
    struct settings_source source;
};

/* What the thread is given: a copy, since a reload may free what it was taken from. */
struct job {
    char state_dir[STATE_DIR_MAX];
    struct kept_file file[FILES_MAX];
    int count;
    struct wall at; /* 0: not known */
    struct accepted_state *state;
};

static void path_in(char path[static PATH_SIZE], const char *state_dir, const char *name)
{
    snprintf(path, PATH_SIZE, "%s/%s", state_dir, name);
}

/* ---- loading ---------------------------------------------------------------------------- */

struct settings *accepted_load(const char *state_dir, struct settings_troubles *troubles,
                               struct wall *at)
{
    static const char *const folders[] = {"accepted", "accepted.old"};
    char path[PATH_SIZE + 16], maps[PATH_SIZE + 16], folder[PATH_SIZE];
    struct stat found;
    for (size_t k = 0; k < sizeof(folders) / sizeof(folders[0]); k++) {
        path_in(folder, state_dir, folders[k]);
        snprintf(path, sizeof(path), "%s/sluice.yaml", folder);
        snprintf(maps, sizeof(maps), "%s/meters", folder);
        if (stat(path, &found) != 0)
            continue;
        at->ms = (int64_t)found.st_mtim.tv_sec * MS_PER_S;
        return settings_load(path, maps, NULL, troubles);
    }
    return NULL;
}

/* ---- writing, in the thread --------------------------------------------------------------- */

static bool is_kept(const char *folder, const struct kept_file *file)
{
    char path[PATH_SIZE + 80];
    struct stat found;
    snprintf(path, sizeof(path), "%s/%s", folder, file->name);
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (fd < 0)
        return false;
    char *bytes = malloc(file->source.size + 1);
    bool same = bytes && fstat(fd, &found) == 0 && S_ISREG(found.st_mode) &&
                read(fd, bytes, file->source.size + 1) == (ssize_t)file->source.size &&
                memcmp(bytes, file->source.bytes, file->source.size) == 0;
    free(bytes);
    close(fd);
    return same;
}

static bool all_kept(const char *folder, const struct job *job)
{
    for (int k = 0; k < job->count; k++)
        if (!is_kept(folder, &job->file[k]))
            return false;
    return true;
}

static int remove_one(const char *path, const struct stat *found, int kind, struct FTW *walk)
{
    (void)found, (void)kind, (void)walk;
    return remove(path);
}

static bool remove_folder(const char *folder)
{
    return nftw(folder, remove_one, 4, FTW_DEPTH | FTW_PHYS) == 0 || errno == ENOENT;
}

static bool write_all(int fd, const struct settings_source *source)
{
    for (size_t done = 0; done < source->size;) {
        ssize_t wrote = write(fd, source->bytes + done, source->size - done);
        if (wrote < 0 && errno != EINTR)
            return false;
        done += wrote > 0 ? (size_t)wrote : 0;
    }
    return true;
}

/* The moment of acceptance is the file's own time. */
static bool write_file(const char *folder, const struct kept_file *file, struct wall at)
{
    char path[PATH_SIZE + 80];
    const struct timespec times[] = {{.tv_sec = at.ms / MS_PER_S}, {.tv_sec = at.ms / MS_PER_S}};
    snprintf(path, sizeof(path), "%s/%s", folder, file->name);
    int fd = open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0640);
    if (fd < 0)
        return false;
    bool ok = write_all(fd, &file->source) && futimens(fd, times) == 0 && fsync(fd) == 0;
    int error = errno;
    ok &= close(fd) == 0;
    errno = error;
    return ok;
}

static bool flush_folder(const char *folder)
{
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    bool ok = fd >= 0 && fsync(fd) == 0;
    if (fd >= 0)
        close(fd);
    return ok;
}

static bool write_folder(const char *folder, const struct job *job)
{
    char maps[PATH_SIZE + 16];
    snprintf(maps, sizeof(maps), "%s/meters", folder);
    if (!remove_folder(folder) || mkdir(folder, 0750) != 0 || mkdir(maps, 0750) != 0)
        return false;
    for (int k = 0; k < job->count; k++)
        if (!write_file(folder, &job->file[k], job->at))
            return false;
    return flush_folder(maps) && flush_folder(folder);
}

static bool keep(const struct job *job)
{
    char now[PATH_SIZE], new[PATH_SIZE], old[PATH_SIZE];
    path_in(now, job->state_dir, "accepted");
    path_in(new, job->state_dir, "accepted.new");
    path_in(old, job->state_dir, "accepted.old");
    if (all_kept(now, job))
        return true;
    if (!write_folder(new, job))
        return false;
    if (access(now, F_OK) == 0 && (!remove_folder(old) || rename(now, old) != 0))
        return false;
    if (rename(new, now) != 0 || !flush_folder(job->state_dir))
        return false;
    return remove_folder(old);
}

static void free_job(struct job *job)
{
    for (int k = 0; job && k < job->count; k++)
        free(job->file[k].source.bytes);
    free(job);
}

static void *run_job(void *context)
{
    struct job *job = context;
    struct accepted_state *state = job->state;
    state->error = keep(job) ? 0 : errno;
    free_job(job);
    atomic_store(&state->done, true);
    return NULL;
}

/* ---- the loop's side ------------------------------------------------------------------------ */

static bool add_file(struct job *job, const char *name, const struct settings_source *source)
{
    struct kept_file *file = &job->file[job->count];
    if (!source->bytes)
        return true; /* found by walking, without a map */
    snprintf(file->name, sizeof(file->name), "%s", name);
    file->source.bytes = malloc(source->size + 1);
    if (!file->source.bytes)
        return false;
    memcpy(file->source.bytes, source->bytes, source->size);
    file->source.size = source->size;
    job->count++;
    return true;
}

static struct job *make_job(struct files *files, struct common *common)
{
    const struct settings *settings = common->settings;
    struct job *job = calloc(1, sizeof(*job));
    bool ok = job && add_file(job, "sluice.yaml", &settings->source);
    for (uint8_t k = 0; ok && k < settings->meter_count; k++) {
        char name[64];
        snprintf(name, sizeof(name), "meters/%s.yaml", settings->meters[k].map_name);
        ok = add_file(job, name, &settings->meters[k].map_source);
    }
    if (!ok) {
        free_job(job);
        return NULL;
    }
    memcpy(job->state_dir, files->state_dir, sizeof(job->state_dir));
    job->at = common->now.wall_trusted ? common->now.wall : (struct wall){0};
    job->state = &files->accepted;
    return job;
}

void accepted_keep(struct files *files, struct common *common)
{
    struct accepted_state *state = &files->accepted;
    if (!files->state_dir[0])
        return;
    state->again = state->running;
    if (state->running)
        return;
    struct job *job = make_job(files, common);
    atomic_store(&state->done, false);
    state->running = job && thread_start(&state->thread, run_job, job);
    if (state->running)
        return;
    free_job(job);
    site_trouble(common, trouble_id, "the settings cannot be kept for a restart: no memory");
}

void accepted_turn(struct files *files, struct common *common)
{
    struct accepted_state *state = &files->accepted;
    if (!state->running || !atomic_load(&state->done))
        return;
    pthread_join(state->thread, NULL);
    state->running = false;
    if (state->error)
        site_trouble(common, trouble_id, "the settings cannot be kept for a restart: %.100s: %s",
                     files->state_dir, strerror(state->error));
    else
        site_solved(common, trouble_id);
    if (state->again)
        accepted_keep(files, common);
}

void accepted_wait(struct files *files, struct common *common)
{
    struct accepted_state *state = &files->accepted;
    while (state->running) {
        pthread_join(state->thread, NULL);
        state->running = false;
        if (state->again)
            accepted_keep(files, common);
    }
}

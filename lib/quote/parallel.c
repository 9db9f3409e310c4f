/* parallel.c - workers are forked once all is prepared: they see the caller's memory as it
 * is, and write each result to one pipe in one piece (POSIX: a write of up to PIPE_BUF
 * bytes is not mixed with another's). Where forking fails the caller does the work. */
#include "quote/parallel.h"

#include <errno.h>
#include <limits.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { WORKERS_MAX = 2 };

struct parcel {
    int index;
    _Alignas(max_align_t) char result[PARALLEL_RESULT_MAX];
};
_Static_assert(sizeof(struct parcel) <= PIPE_BUF, "a parcel is written whole");

static void put_in_place(const struct parallel *jobs, const struct parcel *parcel, void *results)
{
    memcpy((char *)results + (size_t)parcel->index * jobs->result_size, parcel->result,
           jobs->result_size);
}

static int workers_of(const struct parallel *jobs, int count)
{
    long most = jobs->workers > 0 ? jobs->workers : sysconf(_SC_NPROCESSORS_ONLN);
    most = most > WORKERS_MAX ? WORKERS_MAX : most;
    return most > count ? count : (int)most;
}

static void report(const struct parallel *jobs, int done)
{
    if (jobs->progress)
        jobs->progress(jobs->progress_context, done);
}

static bool do_here(const struct parallel *jobs, int count, void *results)
{
    for (int i = 0; i < count; i++) {
        jobs->work(jobs->context, i, (char *)results + (size_t)i * jobs->result_size);
        report(jobs, i + 1);
    }
    return true;
}

static size_t parcel_size(const struct parallel *jobs)
{
    return offsetof(struct parcel, result) + jobs->result_size;
}

/* Ends without the caller's exit handlers and buffers, which are the caller's. */
static void work(const struct parallel *jobs, int first, int stride, int count, int pipe_end)
{
    struct parcel parcel;
    for (int i = first; i < count; i += stride) {
        memset(&parcel, 0, sizeof(parcel));
        parcel.index = i;
        jobs->work(jobs->context, i, parcel.result);
        if (write(pipe_end, &parcel, parcel_size(jobs)) != (ssize_t)parcel_size(jobs))
            _exit(1);
    }
    _exit(0);
}

static bool read_parcel(int pipe_end, struct parcel *parcel, size_t size)
{
    for (size_t got = 0; got < size;) {
        ssize_t more = read(pipe_end, (char *)parcel + got, size - got);
        if (more < 0 && errno == EINTR)
            continue;
        if (more <= 0)
            return false;
        got += (size_t)more;
    }
    return true;
}

static int gather(const struct parallel *jobs, int pipe_end, int count, void *results)
{
    struct parcel parcel;
    int done = 0;
    while (done < count && read_parcel(pipe_end, &parcel, parcel_size(jobs))) {
        put_in_place(jobs, &parcel, results);
        report(jobs, ++done);
    }
    return done;
}

static bool wait_for(pid_t worker)
{
    int status;
    while (waitpid(worker, &status, 0) < 0)
        if (errno != EINTR)
            return false;
    return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

bool parallel_run(const struct parallel *jobs, int count, void *results)
{
    int workers = workers_of(jobs, count), ends[2], started = 0;
    pid_t worker[WORKERS_MAX];
    if (jobs->result_size > PARALLEL_RESULT_MAX)
        return false;
    if (workers < 2 || pipe(ends) != 0)
        return do_here(jobs, count, results);
    for (; started < workers; started++) {
        worker[started] = fork();
        if (worker[started] == 0) {
            close(ends[0]);
            work(jobs, started, workers, count, ends[1]);
        }
        if (worker[started] < 0)
            break;
    }
    close(ends[1]);
    int done = started == workers ? gather(jobs, ends[0], count, results) : 0;
    close(ends[0]);
    bool good = true;
    for (int w = 0; w < started; w++)
        good &= wait_for(worker[w]);
    if (started < workers)
        return do_here(jobs, count, results);
    return good && done == count;
}

#include "process.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

/* A pipe's read end with all of `input` in it; short inputs only, so that writing never waits. */
static int input_end(const char *input)
{
    if (!input) return open("/dev/null", O_RDONLY | O_CLOEXEC);
    int end[2];
    size_t len = strlen(input);
    if (len > 4096 || pipe2(end, O_CLOEXEC) != 0) return -1;
    ssize_t n = write(end[1], input, len);
    close(end[1]);
    if (n == (ssize_t)len) return end[0];
    close(end[0]);
    return -1;
}

static void become_child(char *const argv[], int in, int out, int dies, pid_t parent)
{
    sigset_t none;
    sigemptyset(&none);
    sigprocmask(SIG_SETMASK, &none, NULL);
    setsid(); /* a Ctrl-C in the terminal is for the parent, which stops the child in order */
    if (dies) prctl(PR_SET_PDEATHSIG, dies);
    if (dies && getppid() != parent) _exit(126);
    if (dup2(in, 0) < 0 || dup2(out, 1) < 0 || dup2(out, 2) < 0) _exit(126);
    execv(argv[0], argv);
    _exit(127);
}

static pid_t start(char *const argv[], int in, int out, int dies)
{
    pid_t parent = getpid(), pid = fork();
    if (pid == 0) become_child(argv, in, out, dies, parent);
    return pid;
}

pid_t cot_process_start(char *const argv[], const char *log, const char *input, int dies)
{
    pid_t pid = -1;
    int in = input_end(input), out = open(log, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    if (in >= 0 && out >= 0) pid = start(argv, in, out, dies);
    if (in >= 0) close(in);
    if (out >= 0) close(out);
    return pid;
}

static int wait_end(pid_t pid)
{
    int status;
    while (waitpid(pid, &status, 0) < 0)
        if (errno != EINTR) return -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

int cot_process_run(char *const argv[], const char *log, const char *input)
{
    pid_t pid = cot_process_start(argv, log, input, SIGKILL);
    return pid < 0 ? -1 : wait_end(pid);
}

int cot_process_line(char *const argv[], char *out, size_t len)
{
    int end[2], in = input_end(NULL);
    *out = '\0';
    if (in < 0 || pipe2(end, O_CLOEXEC) != 0) return -1;
    pid_t pid = start(argv, in, end[1], SIGKILL);
    close(in);
    close(end[1]);
    FILE *f = fdopen(end[0], "re");
    if (f && fgets(out, (int)len, f)) out[strcspn(out, "\n")] = '\0';
    if (f) fclose(f);
    else close(end[0]);
    return pid < 0 ? -1 : wait_end(pid) == 0 && *out ? 0 : -1;
}

using System.Diagnostics;

namespace Cardassay.Cards.Tests;

/// <summary>A card in user space (card.c) below a loop device: whatever the kernel does to a card it then does to this one. Needs root and FUSE.</summary>
internal sealed class ServedCard : IDisposable
{
    private static readonly Lazy<string> Program = new(Compile);

    private readonly string _mount;
    private readonly Process _server;

    /// <summary>Serves a card.</summary>
    /// <param name="traits">KEY=VALUE words of card.c, apart by spaces.</param>
    public ServedCard(string traits)
    {
        _mount = Directory.CreateTempSubdirectory("cardassay-card-").FullName;
        _server = Process.Start(new ProcessStartInfo(Program.Value, [_mount, .. traits.Split(' ', StringSplitOptions.RemoveEmptyEntries)]) { RedirectStandardError = true })!;
        string file = Path.Combine(_mount, "card");
        for (int i = 0; !File.Exists(file); i++)
        {
            if (_server.HasExited || i > 1000)
            {
                throw new InvalidOperationException($"card {traits}: {(_server.HasExited ? _server.StandardError.ReadToEnd() : "it does not begin to serve")}");
            }

            Wait(10);
        }

        DevicePath = Tool("losetup", "--find", "--show", file);
    }

    /// <summary>Skips the calling test where no card can be served; fails it where one must be.</summary>
    public static void SkipWhereImpossible()
    {
        string? missing = WhyImpossible();
        Assert.True(missing is null || Environment.GetEnvironmentVariable("CARDASSAY_REQUIRE_FUSE") != "1", missing);
        Skip.If(missing is not null, missing);
    }

    /// <summary>Null where such cards can be served, else what is missing.</summary>
    private static string? WhyImpossible() =>
        Environment.UserName != "root" || !File.Exists("/dev/fuse") || !File.Exists("/dev/loop-control") ? "needs root, /dev/fuse and loop devices"
        : !File.Exists("/usr/include/fuse3/fuse.h") ? "needs gcc and libfuse3-dev"
        : null;

    /// <summary>The loop device.</summary>
    public string DevicePath { get; }

    /// <summary>Discards every block, as a formatting program does.</summary>
    public void Discard() => Tool("blkdiscard", DevicePath);

    public void Dispose()
    {
        Tool("losetup", "--detach", DevicePath);
        for (int i = 0; i < 100 && !_server.HasExited; i++)
        {
            using Process unmount = Process.Start(new ProcessStartInfo("umount", [_mount]) { RedirectStandardError = true })!;
            unmount.WaitForExit();
            _server.WaitForExit(50); // the loop driver lets go a moment after it says so
        }

        _server.Dispose();
        Directory.Delete(_mount);
    }

    private static string Compile()
    {
        string program = Path.Combine(Directory.CreateTempSubdirectory("cardassay-card-program-").FullName, "card");
        string[] library = Tool("pkg-config", "--cflags", "--libs", "fuse3").Split(' ', StringSplitOptions.RemoveEmptyEntries);
        Tool("gcc", ["-O2", "-Wall", "-Wextra", "-Werror", "-o", program, Path.Combine(AppContext.BaseDirectory, "card.c"), .. library]);
        return program;
    }

    private static string Tool(string name, params string[] arguments)
    {
        using Process process = Process.Start(new ProcessStartInfo(name, arguments) { RedirectStandardOutput = true, RedirectStandardError = true })!;
        string output = process.StandardOutput.ReadToEnd();
        string errors = process.StandardError.ReadToEnd();
        process.WaitForExit();
        return process.ExitCode == 0 ? output.Trim() : throw new InvalidOperationException($"{name}: {errors}");
    }

    private static void Wait(int ms)
    {
        using var wait = new ManualResetEventSlim();
        wait.Wait(ms);
    }
}

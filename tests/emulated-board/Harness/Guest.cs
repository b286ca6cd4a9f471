using System.Collections.Concurrent;
using System.Diagnostics;
using System.Globalization;
using System.Net.Sockets;
using System.Text;
using System.Text.Json.Nodes;
using System.Threading.Channels;

namespace Cardassay.EmulatedBoard.Harness;

/// <summary>
/// A board: an arm64 machine under software emulation whose real kernel drives emulated cards. Every wait has a limit, and
/// every failure shows the console's log.
/// </summary>
public sealed class Guest : IAsyncDisposable
{
    private static readonly ConcurrentDictionary<Guest, bool> Running = new();

    private readonly Process emulator;
    private readonly string consoleLog;
    private readonly StringBuilder emulatorErrors = new();
    private readonly Channel<string> lines = Channel.CreateUnbounded<string>();
    private NetworkStream? control;
    private EmulatorMonitor? monitor;
    private int scenarioCount;

    static Guest() => AppDomain.CurrentDomain.ProcessExit += (_, _) =>
    {
        foreach (Guest guest in Running.Keys)
        {
            guest.CutPower();
        }
    };

    private Guest(Process emulator, string consoleLog)
    {
        this.emulator = emulator;
        this.consoleLog = consoleLog;
        emulator.ErrorDataReceived += (_, e) => emulatorErrors.AppendLine(e.Data);
    }

    /// <summary>Boots a board and waits until it takes scenarios. Skips the calling test where the machine cannot run one.</summary>
    /// <exception cref="GuestException">It does not come up.</exception>
    public static async Task<Guest> StartAsync(GuestSetup setup)
    {
        GuestImage image = await GuestImage.ObtainAsync();
        string name = WorkFolder.NewPath("guest");
        (string console, string controlSocket, string monitorSocket) = ($"{name}.console", $"{name}.control", $"{name}.monitor");
        ProcessStartInfo start = new("qemu-system-aarch64", Arguments(setup, image, console, controlSocket, monitorSocket))
        {
            RedirectStandardError = true,
            RedirectStandardInput = true,
        };
        Guest guest = new(new Process { StartInfo = start }, console);
        guest.emulator.Start();
        guest.emulator.BeginErrorReadLine();
        Running[guest] = true;
        try
        {
            await guest.ConnectAsync(controlSocket, monitorSocket);
            return guest;
        }
        catch
        {
            await guest.DisposeAsync();
            throw;
        }
    }

    /// <summary>Starts a script of the `scenarios` folder. One at a time.</summary>
    /// <param name="scenario">Its name without `.sh`.</param>
    /// <param name="arguments">Its arguments; they hold no white space.</param>
    public async Task<Scenario> BeginAsync(string scenario, params string[] arguments)
    {
        int number = ++scenarioCount;
        string line = string.Create(CultureInfo.InvariantCulture, $"{number} {scenario} {string.Join(' ', arguments)}\n");
        await control!.WriteAsync(Encoding.UTF8.GetBytes(line));
        return new Scenario(this, lines.Reader, scenario, number);
    }

    /// <summary>Runs a scenario to its successful end.</summary>
    /// <returns>What it printed.</returns>
    public async Task<string> RunAsync(string scenario, params string[] arguments) =>
        await (await BeginAsync(scenario, arguments)).SucceedAsync();

    /// <summary>Pulls the card out of a slot, whatever the guest is doing.</summary>
    public Task PullCardAsync(int slot) =>
        MonitorAsync("eject", new JsonObject { ["device"] = Drive(slot), ["force"] = true });

    /// <summary>Inserts a card into an empty slot.</summary>
    public Task InsertCardAsync(int slot, CardMedium card) =>
        MonitorAsync("blockdev-change-medium", new JsonObject { ["device"] = Drive(slot), ["filename"] = card.Source, ["format"] = "raw" });

    /// <summary>Ends the emulator at once: what the guest had not flushed is gone.</summary>
    public void CutPower()
    {
        if (Running.TryRemove(this, out _))
        {
            emulator.Kill();
            emulator.WaitForExit();
        }
    }

    /// <inheritdoc/>
    public async ValueTask DisposeAsync()
    {
        CutPower();
        monitor?.Dispose();
        if (control is not null)
        {
            await control.DisposeAsync();
        }

        emulator.Dispose();
    }

    internal GuestException Failure(string what, string printed) => new($"""
        {what}
        --- printed by the scenario
        {printed}
        --- console, last lines
        {Tail(consoleLog)}
        --- told by the programs, last lines
        {Tail(Told(consoleLog))}
        --- emulator
        {emulatorErrors}
        """);

    private static string Told(string console) => $"{console}.told";

    private static string Drive(int slot) => string.Create(CultureInfo.InvariantCulture, $"card{slot}");

    private static IEnumerable<string> Arguments(GuestSetup setup, GuestImage image, string console, string controlSocket, string monitorSocket)
    {
        int cards = setup.Slots.Count(card => card is not null);
        List<string> all =
        [
            // One thread for both processors: the host has two for everything.
            "-M", "virt,gic-version=3", "-cpu", "cortex-a57", "-accel", "tcg,thread=single", "-smp", "2",
            "-m", setup.MemoryMiB.ToString(CultureInfo.InvariantCulture),
            "-display", "none", "-nodefaults", "-no-reboot",
            "-kernel", image.Kernel, "-initrd", image.Initramfs,
            "-append", string.Create(CultureInfo.InvariantCulture, $"console=ttyAMA0 loglevel=4 panic=-1 board={setup.Name} cards={cards}{(setup.System is null ? "" : " root=/dev/vda")}"),
            "-serial", $"file:{console}",

            // What programs tell a person has a console of its own, so that the kernel's messages do not tear its lines.
            "-chardev", $"file,id=told,path={Told(console)}",
            "-chardev", $"socket,id=control,path={controlSocket},server=on,wait=off",
            "-device", "virtio-serial-pci", "-device", "virtserialport,chardev=control,name=control", "-device", "virtconsole,chardev=told",
            "-chardev", $"socket,id=monitor,path={monitorSocket},server=on,wait=off", "-mon", "chardev=monitor,mode=control",
        ];
        for (int slot = 0; slot < setup.Slots.Count; slot++)
        {
            // A host's cache that is lost with the machine is nothing a test can see: the guest's power is cut, not the host's.
            string medium = setup.Slots[slot] is { } card ? $",file={card.Source},format=raw,cache=unsafe" : "";
            all.AddRange(["-drive", $"if=none,id={Drive(slot)}{medium}", "-device", "sdhci-pci", "-device", $"sd-card,drive={Drive(slot)}"]);
        }

        foreach (GuestDisk disk in new[] { setup.System, setup.Disk }.OfType<GuestDisk>())
        {
            all.AddRange(["-drive", $"if=virtio,file={disk.Path},format=raw,cache=unsafe"]);
        }

        if (setup.Network)
        {
            all.AddRange(["-netdev", "user,id=net", "-device", "virtio-net-pci,netdev=net,romfile="]);
        }

        return all;
    }

    private async Task ConnectAsync(string controlSocket, string monitorSocket)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        try
        {
            control = new NetworkStream(await ConnectAsync(controlSocket, late.Token), ownsSocket: true);
            monitor = await EmulatorMonitor.OpenAsync(await ConnectAsync(monitorSocket, late.Token), late.Token);
            _ = ReadControlAsync();
            while (await lines.Reader.ReadAsync(late.Token) != "@ready")
            {
            }
        }
        catch (Exception e) when (e is OperationCanceledException or ChannelClosedException)
        {
            throw Failure($"the guest did not come up within {Hang.Limit}", "");
        }
    }

    private async Task<Socket> ConnectAsync(string path, CancellationToken cancellation)
    {
        while (!emulator.HasExited)
        {
            Socket socket = new(AddressFamily.Unix, SocketType.Stream, ProtocolType.Unspecified);
            try
            {
                await socket.ConnectAsync(new UnixDomainSocketEndPoint(path), cancellation);
                return socket;
            }
            catch (SocketException)
            {
                socket.Dispose();
                await Task.Delay(20, cancellation);
            }
        }

        throw Failure($"the emulator ended with {emulator.ExitCode} before it listened", "");
    }

    private async Task ReadControlAsync()
    {
        try
        {
            using StreamReader reader = new(control!, Encoding.UTF8, detectEncodingFromByteOrderMarks: false, leaveOpen: true);
            while (await reader.ReadLineAsync() is { } line)
            {
                lines.Writer.TryWrite(line);
            }
        }
        catch (Exception e) when (e is IOException or ObjectDisposedException)
        {
            // The power was cut.
        }

        lines.Writer.Complete();
    }

    private async Task MonitorAsync(string command, JsonObject arguments)
    {
        using CancellationTokenSource late = new(Hang.Limit);
        await monitor!.ExecuteAsync(command, arguments, late.Token);
    }

    private static string Tail(string path) => File.Exists(path) ? string.Join('\n', File.ReadLines(path).TakeLast(60)) : "(no log)";
}

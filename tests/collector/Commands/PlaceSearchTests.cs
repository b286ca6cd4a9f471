using System.Net;
using Cardassay.Collector.Commands;
using Cardassay.Collector.Hosting;

namespace Cardassay.Collector.Tests.Commands;

/// <summary>A command finds one collector, always the same way, and says what to do where there is none. It makes nothing.</summary>
public sealed class PlaceSearchTests : IDisposable
{
    private readonly string _root = Directory.CreateTempSubdirectory("cardassay-places-").FullName;
    private readonly Dictionary<string, string> _environment = [];

    private string Home => Path.Combine(_root, "home");

    [Fact]
    [System.Runtime.Versioning.SupportedOSPlatform("linux")]
    public async Task Find_InOrder_NamedThenEnvironmentThenRunningThenService()
    {
        await using CollectorHost running = await ServeAsync("mine");
        using RunningCollectors? note = RunningCollectors.Note(Home, Folder("mine"));
        await using CollectorHost service = await ServeAsync("var/lib/cardassay-collector", "run/cardassay-collector");
        _environment["CARDASSAY_DATA"] = Folder("chosen");

        Assert.Equal(new CollectorPlace(PlaceKind.Named, Folder("given"), Path.Combine(Folder("given"), "operator.sock")), await FindAsync(Folder("given")));
        Assert.Equal((PlaceKind.Environment, Folder("chosen")), Of(await FindAsync()));
        _environment.Clear();
        Assert.Equal((PlaceKind.Running, Folder("mine")), Of(await FindAsync()));
        note!.Dispose();
        CollectorPlace found = await FindAsync();
        Assert.Equal((PlaceKind.Service, null), Of(found));
        Assert.Equal(Folder("run/cardassay-collector/operator.sock"), found.Socket);

        // The group may operate it and nobody else; the owner's own socket stays the owner's.
        Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.GroupRead | UnixFileMode.GroupWrite, File.GetUnixFileMode(found.Socket));
        Assert.Equal(UnixFileMode.UserRead | UnixFileMode.UserWrite, File.GetUnixFileMode(Folder("var/lib/cardassay-collector/operator.sock")));
        await using OperatorSession session = await OperatorSession.OpenAsync(found, TimeProvider.System, CancellationToken.None);
        Assert.Equal(Folder("var/lib/cardassay-collector"), (await session.Client.GetStatusAsync(new V1.GetStatusRequest())).DataFolder);
    }

    [Fact]
    public async Task Find_NothingAnywhere_SaysWhatToDoAndMakesNothing()
    {
        CommandException e = await Assert.ThrowsAsync<CommandException>(() => FindAsync());
        Assert.Equal(2, e.ExitCode);
        Assert.Contains("serve --data", e.Message, StringComparison.Ordinal);
        Assert.Empty(Directory.EnumerateFileSystemEntries(_root));
    }

    [Fact]
    public async Task Find_ServiceThatIsStopped_IsNamedWithTheRemedyAndNotReadBehindItsBack()
    {
        Directory.CreateDirectory(Folder("var/lib/cardassay-collector"));
        Assert.Contains("systemctl start cardassay-collector", (await Assert.ThrowsAsync<CommandException>(() => FindAsync())).Message, StringComparison.Ordinal);
    }

    [Fact]
    public async Task Find_ForTheServicesOwnUser_FollowsTheConfigurationFile()
    {
        Directory.CreateDirectory(Folder("var/lib/cardassay-collector"));
        Assert.Equal((PlaceKind.ServiceFolder, Folder("var/lib/cardassay-collector")), Of(await FindAsync(user: "cardassay-collector")));
        Directory.CreateDirectory(Folder("etc/cardassay"));
        File.WriteAllText(Folder("etc/cardassay/collector.conf"), $"# moved\ndata = {Folder("elsewhere")}\n");
        Assert.Equal((PlaceKind.ServiceFolder, Folder("elsewhere")), Of(await FindAsync(user: "cardassay-collector")));
    }

    [Fact]
    public async Task Find_SeveralRunning_AsksForOne()
    {
        await using CollectorHost one = await ServeAsync("one");
        await using CollectorHost two = await ServeAsync("two");
        using RunningCollectors? first = RunningCollectors.Note(Home, Folder("one"));
        using RunningCollectors? second = RunningCollectors.Note(Home, Folder("two"));
        CommandException e = await Assert.ThrowsAsync<CommandException>(() => FindAsync());
        Assert.Contains(Folder("one"), e.Message, StringComparison.Ordinal);
        Assert.Contains(Folder("two"), e.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public async Task Open_FolderWithoutData_IsRefusedAndLeftAsItIs(bool exists)
    {
        string folder = Folder("mistyped");
        if (exists)
        {
            Directory.CreateDirectory(folder);
        }

        CommandException e = await Assert.ThrowsAsync<CommandException>(
            () => OperatorSession.OpenAsync(CollectorPlace.In(PlaceKind.Named, folder), TimeProvider.System, CancellationToken.None));
        Assert.Equal(2, e.ExitCode);
        Assert.Contains(folder, e.Message, StringComparison.Ordinal);
        Assert.Equal(exists, Directory.Exists(folder));
        Assert.False(exists && Directory.EnumerateFileSystemEntries(folder).Any());
    }

    [Fact]
    public void Note_LeftBehindByAKill_AndOnesOfNonsense_AreNoCollector()
    {
        using RunningCollectors? left = RunningCollectors.Note(Home, "/no/such/place");
        File.WriteAllText(Path.Combine(Home, ".local/state/cardassay-collector/running/x"), "not a path\n");
        Assert.Equal(["/no/such/place"], RunningCollectors.Of(Home));
        Assert.Null(RunningCollectors.Note("", "/x"));
        Assert.Empty(RunningCollectors.Of(""));
    }

    public void Dispose() => Directory.Delete(_root, recursive: true);

    private static (PlaceKind, string?) Of(CollectorPlace place) => (place.Kind, place.Folder);

    private string Folder(string name) => Path.Combine(_root, name);

    private Task<CollectorPlace> FindAsync(string? named = null, string user = "alice") =>
        new PlaceSearch(_environment.GetValueOrDefault, Home, user, _root).FindAsync(named, CancellationToken.None);

    private Task<CollectorHost> ServeAsync(string folder, string? runtime = null)
    {
        if (runtime is not null)
        {
            Directory.CreateDirectory(Folder(runtime));
        }

        return CollectorHost.StartAsync(
            new CollectorOptions
            {
                DataFolder = Folder(folder),
                PlainText = new IPEndPoint(IPAddress.Loopback, 0),
                GroupSocket = runtime is null ? null : CollectorOptions.GroupSocketOfService(name => name == "RUNTIME_DIRECTORY" ? Folder(runtime) : null),
            },
            TimeProvider.System,
            CancellationToken.None);
    }
}

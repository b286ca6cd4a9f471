using System.Net;
using System.Security.Cryptography;
using System.Security.Cryptography.X509Certificates;
using Cardassay.Collector.Boards;
using Cardassay.Collector.Tests.Intake;
using Cardassay.Trust;
using Google.Protobuf;
using Grpc.Core;
using Microsoft.Extensions.DependencyInjection;

namespace Cardassay.Collector.Tests.Boards;

/// <summary>Attempts to get in. Each is refused with a sentence, written down, and leaves nothing in the store.</summary>
public sealed class GettingInTests : IAsyncLifetime
{
    private CollectorFixture _collector = null!;

    public async Task InitializeAsync() => _collector = await CollectorFixture.StartAsync();

    public async Task DisposeAsync() => await _collector.DisposeAsync();

    [Fact]
    public async Task Member_WithItsInvitation_DeliversUnderItsName()
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync("bench-1"));
        Assert.NotNull((await member.Desk.CheckAsync(new V1.Presence { Board = "bench-1" })));
        await DeliverOneAsync(member, "bench-1");
        Assert.Equal(1ul, (await _collector.StatusAsync()).RecordsReceived);
        V1.Board board = Assert.Single((await _collector.AskAsync(async o => await o.ListBoardsAsync(new V1.ListBoardsRequest()))).Boards);
        Assert.Equal(("bench-1", "joined"), (board.Name, board.Trust));
        Assert.Equal(0, _collector.Refusals);
    }

    [Fact]
    public async Task Call_WithoutACertificate_IsRefused()
    {
        using var stranger = new TestMember(_collector.Address, null);
        await RefusedAsync(StatusCode.Unauthenticated, "join first", () => stranger.Desk.CheckAsync(new V1.Presence { Board = "bench" }).ResponseAsync);
        await RefusedAsync(StatusCode.Unauthenticated, "join first", () => GreetAsync(stranger, "bench"));
        await RefusedAsync(StatusCode.Unauthenticated, "join first", () => stranger.Enrolment.RenewAsync(new V1.RenewRequest()).ResponseAsync);
        await RefusedAsync(StatusCode.PermissionDenied, "owner's socket", () => new V1.Operator.OperatorClient(stranger.Channel).GetStatusAsync(new V1.GetStatusRequest()).ResponseAsync);
    }

    [Theory]
    [InlineData("/report")]
    [InlineData("/")]
    [InlineData("/health/ready")]
    [InlineData("/no-such-thing")]
    public async Task Page_ThroughTheBoardsDoor_IsNotThere(string path)
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync());
        using var http = new HttpClient(member.Handler, disposeHandler: false) { DefaultRequestVersion = HttpVersion.Version20, DefaultVersionPolicy = HttpVersionPolicy.RequestVersionExact };
        Assert.Equal(HttpStatusCode.NotFound, (await http.GetAsync($"https://{AuthorityTrust.CollectorName}{path}")).StatusCode);
        using var plain = new HttpClient { DefaultRequestVersion = HttpVersion.Version20, DefaultVersionPolicy = HttpVersionPolicy.RequestVersionExact };
        Assert.Equal(HttpStatusCode.NotFound, (await plain.GetAsync($"http://{_collector.Host.Addresses.PlainText}{path}")).StatusCode);
    }

    [Fact]
    public async Task Call_WithAStrangersCertificate_IsRefusedInTheHandshake()
    {
        string other = Path.Combine(_collector.Folder, "other", "authority.pem");
        using Authority stranger = Authority.OpenOrMake(other, TimeProvider.System);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        using X509Certificate2 forged = stranger.IssueBoard("bench-1", TestMember.SigningRequest(key), TimeProvider.System.GetUtcNow());
        using var caller = new TestMember(_collector.Address, forged.CopyWithPrivateKey(key));
        await Assert.ThrowsAsync<RpcException>(() => caller.Desk.CheckAsync(new V1.Presence { Board = "bench-1" }).ResponseAsync);
        Assert.True(_collector.Refusals >= 1);
        Assert.Equal(0ul, (await _collector.StatusAsync()).RecordsReceived);
    }

    [Fact]
    public async Task Call_WithACertificateOfOursThatIsNotInTheBook_IsRefused()
    {
        // As after a theft of the authority's key, or of a copy of the data folder: the book outranks the signature.
        using Authority same = Authority.OpenOrMake(Path.Combine(_collector.Folder, "authority", "authority.pem"), TimeProvider.System);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        using X509Certificate2 unlisted = same.IssueBoard("bench-1", TestMember.SigningRequest(key), TimeProvider.System.GetUtcNow());
        using var caller = new TestMember(_collector.Address, unlisted.CopyWithPrivateKey(key));
        await RefusedAsync(StatusCode.PermissionDenied, "does not count", () => caller.Desk.CheckAsync(new V1.Presence { Board = "bench-1" }).ResponseAsync);
    }

    [Fact]
    public async Task Revoke_EndsALiveStreamAndEveryLaterCall()
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync());
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(member.Delivery);
        await board.GreetAsync(epoch, 1, 9);
        Assert.NotNull((await board.NextAsync())!.Welcome);
        await board.SendAsync(TestBoard.Record(epoch, 1, [1]));
        await board.ReceiptAsync(1);

        V1.BoardShutOut shut = await _collector.AskAsync(async o => await o.RevokeBoardAsync(new V1.RevokeRequest { Board = "bench" }));
        Assert.Equal(1u, shut.Certificates);
        Assert.Equal(V1.Refusal.Types.Reason.Revoked, (await board.NextAsync())!.Refusal.Reason);
        await RefusedAsync(StatusCode.PermissionDenied, "does not count", () => member.Desk.CheckAsync(new V1.Presence { Board = "bench" }).ResponseAsync);
        await RefusedAsync(StatusCode.PermissionDenied, "does not count", () => GreetAsync(member, "bench"));
        Assert.Equal(1ul, (await _collector.StatusAsync()).RecordsReceived);

        await _collector.StopAsync();
        await _collector.StartAgainAsync(); // the book is in the log
        using var again = new TestMember(_collector.Address, new X509Certificate2(member.Certificate!));
        await RefusedAsync(StatusCode.PermissionDenied, "does not count", () => again.Desk.CheckAsync(new V1.Presence { Board = "bench" }).ResponseAsync);
    }

    [Fact]
    public async Task Revoke_OpenInvitation_IsVoid()
    {
        Invitation invitation = await _collector.InviteAsync();
        Assert.Equal(1u, (await _collector.AskAsync(async o => await o.RevokeBoardAsync(new V1.RevokeRequest { Board = "bench" }))).Invitations);
        await RefusedAsync(StatusCode.PermissionDenied, "does not count", () => TestMember.JoinAsync(invitation));
    }

    [Fact]
    public async Task Invitation_UsedTwiceAtOnce_LetsOneIn()
    {
        Invitation invitation = await _collector.InviteAsync();
        using var stranger = new TestMember(_collector.Address, null);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        bool[] joined = await Task.WhenAll(Enumerable.Range(0, 8).Select(async _ =>
        {
            try
            {
                await stranger.Enrolment.EnrolAsync(TestMember.Request(invitation.Code, key));
                return true;
            }
            catch (RpcException e) when (e.StatusCode == StatusCode.PermissionDenied)
            {
                return false;
            }
        }));
        Assert.Single(joined, inside => inside);
        await _collector.StopAsync();
        await _collector.StartAgainAsync();
        await RefusedAsync(StatusCode.PermissionDenied, "was used", () => TestMember.JoinAsync(new Invitation(_collector.Address, invitation.Pin, invitation.Code)));
    }

    [Fact]
    public async Task Invitation_Expired_IsRefused()
    {
        Invitation invitation = await _collector.InviteAsync(minutes: 10);
        _collector.Time.Shift = TimeSpan.FromMinutes(10);
        await RefusedAsync(StatusCode.PermissionDenied, "expired", () => TestMember.JoinAsync(invitation));
        _collector.Time.Shift = TimeSpan.FromMinutes(9);
        using TestMember member = await TestMember.JoinAsync(invitation);
    }

    [Fact]
    public async Task Invitation_Guessed_IsRefusedAndSoonNotEvenHeard()
    {
        Invitation invitation = await _collector.InviteAsync();
        using var guesser = new TestMember(_collector.Address, null);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        var codes = new List<StatusCode>();
        var random = new Random(6); // the seed
        long start = TimeProvider.System.GetTimestamp();
        for (int i = 0; i < CallLimits.Guesses * 4; i++)
        {
            byte[] code = [.. invitation.Code];
            code[random.Next(code.Length)] ^= (byte)(1 << random.Next(8)); // one bit beside the truth
            codes.Add((await Assert.ThrowsAsync<RpcException>(() => guesser.Enrolment.EnrolAsync(TestMember.Request(code, key)).ResponseAsync)).StatusCode);
        }

        Assert.All(codes.Take(CallLimits.Guesses), c => Assert.Equal(StatusCode.PermissionDenied, c));
        double lasted = TimeProvider.System.GetElapsedTime(start) / CallLimits.GuessEvery;
        Assert.InRange(codes.Count(c => c == StatusCode.PermissionDenied), CallLimits.Guesses, CallLimits.Guesses + 1 + (int)lasted);
        Assert.Contains(StatusCode.ResourceExhausted, codes);
        if (lasted < 0.5)
        {
            // Not even the right code is heard now.
            await RefusedAsync(StatusCode.ResourceExhausted, "wrong codes", () => TestMember.JoinAsync(invitation));
            return;
        }

        Assert.Equal(codes.Count, _collector.Refusals);
    }

    [Theory]
    [InlineData("empty")]
    [InlineData("rubbish")]
    [InlineData("oversized")]
    [InlineData("rsa")]
    [InlineData("p384")]
    [InlineData("brokenSignature")]
    public async Task Enrol_BadSigningRequest_IsRefusedAndTheInvitationStillCounts(string kind)
    {
        Invitation invitation = await _collector.InviteAsync();
        using var stranger = new TestMember(_collector.Address, null);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        byte[] request = TestMember.SigningRequest(key);
        request = kind switch
        {
            "empty" => [],
            "rubbish" => [.. Enumerable.Repeat((byte)0x30, 300)],
            "oversized" => new byte[EnrolmentService.MaxSigningRequestBytes + 1],
            "rsa" => new CertificateRequest("CN=x", RSA.Create(2048), HashAlgorithmName.SHA256, RSASignaturePadding.Pkcs1).CreateSigningRequest(),
            "p384" => TestMember.SigningRequest(ECDsa.Create(ECCurve.NamedCurves.nistP384)),
            _ => [.. request[..^1], (byte)(request[^1] ^ 1)],
        };
        await RefusedAsync(StatusCode.InvalidArgument, "signing request", () => stranger.Enrolment.EnrolAsync(
            new V1.EnrolRequest { Code = ByteString.CopyFrom(invitation.Code), SigningRequest = ByteString.CopyFrom(request) }).ResponseAsync);
        using TestMember member = await TestMember.JoinAsync(invitation);
    }

    [Fact]
    public async Task Enrol_RequestForAnotherName_GetsTheNameOfTheInvitation()
    {
        Invitation invitation = await _collector.InviteAsync("bench-2");
        using var stranger = new TestMember(_collector.Address, null);
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        V1.Enrolled enrolled = await stranger.Enrolment.EnrolAsync(new V1.EnrolRequest
        {
            Code = ByteString.CopyFrom(invitation.Code),
            SigningRequest = ByteString.CopyFrom(TestMember.SigningRequest(key, "CN=" + AuthorityTrust.CollectorName)),
        });
        using X509Certificate2 certificate = X509CertificateLoader.LoadCertificate(enrolled.Certificate.Span);
        using X509Certificate2 authority = X509CertificateLoader.LoadCertificate((await stranger.Enrolment.GetAuthorityAsync(new V1.GetAuthorityRequest())).Certificate.Span);
        Assert.Equal("CN=bench-2", certificate.Subject);
        Assert.Equal(invitation.Pin, KeyPin.Of(authority));

        // A board must not pass for the collector: its certificate is for clients.
        Assert.True(AuthorityTrust.Issued(authority, certificate, AuthorityTrust.ClientPurpose));
        Assert.False(AuthorityTrust.Issued(authority, certificate, AuthorityTrust.ServerPurpose));
        Assert.True(AuthorityTrust.Issued(authority, stranger.Shown!, AuthorityTrust.ServerPurpose));
        Assert.False(AuthorityTrust.Issued(authority, stranger.Shown!, AuthorityTrust.ClientPurpose));
    }

    [Fact]
    public async Task Payload_WithAnotherBoardsName_IsRefused()
    {
        using TestMember first = await TestMember.JoinAsync(await _collector.InviteAsync("bench-1"));
        using TestMember second = await TestMember.JoinAsync(await _collector.InviteAsync("bench-2"));
        await RefusedAsync(StatusCode.PermissionDenied, "stands for bench-2", () => second.Desk.CheckAsync(new V1.Presence { Board = "bench-1" }).ResponseAsync);
        using var board = new TestBoard(second.Delivery);
        await board.GreetAsync(TestBoard.NewEpoch(), 1, 1, name: "bench-1");
        V1.Refusal refusal = (await board.NextAsync())!.Refusal;
        Assert.Contains("stands for bench-2", refusal.Text, StringComparison.Ordinal);
        Assert.Equal(2, _collector.Refusals);
        Assert.Equal(0ul, (await _collector.StatusAsync()).RecordsReceived);
    }

    [Fact]
    public async Task PlainText_UnderAMembersName_IsRefused()
    {
        using TestMember member = await TestMember.JoinAsync(await _collector.InviteAsync("bench-1"));
        await RefusedAsync(StatusCode.PermissionDenied, "plain text", () => new V1.BoardDesk.BoardDeskClient(_collector.Channel).CheckAsync(new V1.Presence { Board = "bench-1" }).ResponseAsync);
        using var board = new TestBoard(_collector);
        await board.GreetAsync(TestBoard.NewEpoch(), 1, 1, name: "bench-1");
        Assert.Contains("plain text", (await board.NextAsync())!.Refusal.Text, StringComparison.Ordinal);
        await RefusedAsync(StatusCode.PermissionDenied, "invitation", () => new V1.Enrolment.EnrolmentClient(_collector.Channel).GetAuthorityAsync(new V1.GetAuthorityRequest()).ResponseAsync);
    }

    [Fact]
    public async Task Call_WithoutRest_IsRefusedForThatBoardOnly()
    {
        using TestMember busy = await TestMember.JoinAsync(await _collector.InviteAsync("busy"));
        using TestMember calm = await TestMember.JoinAsync(await _collector.InviteAsync("calm"));
        async Task<StatusCode> AskAsync()
        {
            try
            {
                await busy.Desk.CheckAsync(new V1.Presence { Board = "busy" });
                return StatusCode.OK;
            }
            catch (RpcException e)
            {
                return e.StatusCode;
            }
        }

        // In small rounds until one is refused: on a busy machine a wave of hundreds can break the connection before the limit is reached.
        List<StatusCode> answers = [];
        for (int round = 0; round < 500 && !answers.Contains(StatusCode.ResourceExhausted); round++)
        {
            answers.AddRange(await Task.WhenAll(Enumerable.Range(0, 16).Select(_ => AskAsync())));
        }

        Assert.Contains(StatusCode.ResourceExhausted, answers);
        Assert.True(answers.Count(a => a != StatusCode.ResourceExhausted) >= CallLimits.BoardCalls);
        await calm.Desk.CheckAsync(new V1.Presence { Board = "calm" });
    }

    [Fact]
    public async Task Renew_PastHalfOfItsLife_GivesACertificateAndTheOldOneCountsUntilTheNext()
    {
        using TestMember first = await TestMember.JoinAsync(await _collector.InviteAsync());
        Assert.False((await first.Desk.CheckAsync(new V1.Presence { Board = "bench" })).RenewCertificate);
        _collector.Time.Shift = (Authority.BoardLife / 2) + TimeSpan.FromMinutes(1);
        Assert.True((await first.Desk.CheckAsync(new V1.Presence { Board = "bench" })).RenewCertificate);
        using TestMember second = await RenewAsync(first);
        Assert.False((await second.Desk.CheckAsync(new V1.Presence { Board = "bench" })).RenewCertificate);
        await first.Desk.CheckAsync(new V1.Presence { Board = "bench" }); // its answer may never have come
        using TestMember third = await RenewAsync(second);
        await RefusedAsync(StatusCode.PermissionDenied, "does not count", () => first.Desk.CheckAsync(new V1.Presence { Board = "bench" }).ResponseAsync);
        await second.Desk.CheckAsync(new V1.Presence { Board = "bench" });

        // Long past its end, also with a clock that is wrong by decades: a night is not lost to a date.
        foreach (double years in (double[])[20, -40])
        {
            _collector.Time.Shift = TimeSpan.FromDays(365 * years);
            await third.Desk.CheckAsync(new V1.Presence { Board = "bench" });
        }
    }

    [Fact]
    public async Task Invite_AgainAndJoin_ShutsTheOlderMachineOut()
    {
        using TestMember old = await TestMember.JoinAsync(await _collector.InviteAsync());
        using TestMember replaced = await TestMember.JoinAsync(await _collector.InviteAsync());
        await RefusedAsync(StatusCode.PermissionDenied, "does not count", () => old.Desk.CheckAsync(new V1.Presence { Board = "bench" }).ResponseAsync);
        await replaced.Desk.CheckAsync(new V1.Presence { Board = "bench" });
    }

    [Fact]
    public async Task Leave_AfterJoiningUnderAnotherName_ClosesTheOldOneAndNothingElse()
    {
        using TestMember old = await TestMember.JoinAsync(await _collector.InviteAsync("attic"));
        using TestMember other = await TestMember.JoinAsync(await _collector.InviteAsync("cellar"));
        using TestMember now = await TestMember.JoinAsync(await _collector.InviteAsync("bench"));
        V1.LeaveRequest Naming(TestMember member) => new() { JoinedSha256 = ByteString.CopyFrom(SHA256.HashData(member.Certificate!.RawDataMemory.Span)) };

        // Nobody closes a name without its certificate, or without another that counts.
        await RefusedAsync(StatusCode.PermissionDenied, "joined under another", () => old.Enrolment.LeaveAsync(Naming(old)).ResponseAsync);
        await RefusedAsync(StatusCode.PermissionDenied, "joined under another", () => old.Enrolment.LeaveAsync(new V1.LeaveRequest()).ResponseAsync);
        Assert.Equal("attic", (await old.Enrolment.LeaveAsync(Naming(now))).Board);
        await RefusedAsync(StatusCode.PermissionDenied, "does not count", () => old.Desk.CheckAsync(new V1.Presence { Board = "attic" }).ResponseAsync);
        await other.Desk.CheckAsync(new V1.Presence { Board = "cellar" });
        await now.Desk.CheckAsync(new V1.Presence { Board = "bench" });

        // It stays so after a restart, and a journal that comes under the new name is no doubt.
        await _collector.StopAsync();
        await _collector.StartAgainAsync();
        Assert.True(_collector.Host.Services.GetRequiredService<TrustBook>().WasRenamed("attic", "bench"));
        Assert.False(_collector.Host.Services.GetRequiredService<TrustBook>().WasRenamed("attic", "cellar"));
        V1.BoardList list = await _collector.AskAsync(async o => await o.ListBoardsAsync(new V1.ListBoardsRequest()));
        Assert.Equal("revoked", list.Boards.Single(b => b.Name == "attic").Trust);
    }

    [Theory]
    [InlineData("")]
    [InlineData("../up")]
    [InlineData("a/b")]
    [InlineData("a b")]
    [InlineData(".hidden")]
    [InlineData("\u001b[31m")]
    public async Task Invite_BadName_IsRefused(string name)
    {
        RpcException e = await Assert.ThrowsAsync<RpcException>(() => _collector.InviteAsync(name));
        Assert.Contains("letters, digits", e.Status.Detail, StringComparison.Ordinal);
    }

    private static async Task<TestMember> RenewAsync(TestMember member)
    {
        using ECDsa key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        V1.Enrolled renewed = await member.Enrolment.RenewAsync(new V1.RenewRequest { SigningRequest = ByteString.CopyFrom(TestMember.SigningRequest(key)) });
        return new TestMember(member.Address, TestMember.WithKey(renewed, key));
    }

    private static async Task DeliverOneAsync(TestMember member, string name)
    {
        byte[] epoch = TestBoard.NewEpoch();
        using var board = new TestBoard(member.Delivery);
        await board.GreetAsync(epoch, 1, 1, name);
        await board.NextAsync();
        await board.SendAsync(TestBoard.Record(epoch, 1, [1]));
        await board.ReceiptAsync(1);
    }

    private static async Task<V1.FromCollector?> GreetAsync(TestMember member, string name)
    {
        using var board = new TestBoard(member.Delivery);
        try
        {
            await board.GreetAsync(TestBoard.NewEpoch(), 1, 1, name);
        }
        catch (RpcException)
        {
            // Refused while it was still being written, which cancels the write; why, the answer says.
        }

        return await board.NextAsync();
    }

    /// <summary>Refused with this status and sentence, written down, and nothing more in the store than before.</summary>
    private async Task RefusedAsync<T>(StatusCode code, string sentence, Func<Task<T>> attempt)
    {
        long before = _collector.Refusals;
        ulong records = (await _collector.StatusAsync()).RecordsReceived;
        RpcException e = await Assert.ThrowsAsync<RpcException>(attempt);
        Assert.Equal(code, e.StatusCode);
        Assert.Contains(sentence, e.Status.Detail, StringComparison.Ordinal);
        Assert.Equal(before + 1, _collector.Refusals);
        Assert.Equal(records, (await _collector.StatusAsync()).RecordsReceived);
    }
}
